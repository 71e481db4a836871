"""Every kind of file works, is told of, or is refused in one line that names it."""

import os
import random
import re
import tempfile
from pathlib import Path

import numpy as np
import pytest

from studio.errors import LaunchsideError, MediaError
from studio.ingest.audio import audio_blocks
from studio.ingest.frames import read_frames
from studio.ingest.probe import probe
from tests.corpus import media
from tests.corpus.media import CASES
from tests.small_episode import ffmpeg

IDS = [case.name for case in CASES]
NOBODY = 65534


def taken(path):
    """All that the stages read of a file: (what was found, frames, seconds of sound)."""
    found = probe(path)
    count, shape, last = 0, None, -1
    for frame in read_frames(path, found.video, grey=True):
        assert frame.time_s > last
        count, shape, last = count + 1, frame.image.shape, frame.time_s
    assert shape == (found.video.height_px, found.video.width_px)
    samples = 0
    if found.audio is not None:
        for block in audio_blocks(path, found, rate_hz=16000, channels=1):
            assert np.isfinite(block).all()
            samples += len(block)
    return found, count, samples / 16000


@pytest.mark.parametrize("case", CASES, ids=IDS)
def test_each_kind_has_its_outcome(case, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = case.make(tmp_path)
    before = sorted(p for p in tmp_path.rglob("*"))
    if case.outcome == "refused":
        with pytest.raises(MediaError, match=case.says) as refused:
            taken(path)
        said = str(refused.value)
        assert path.name.encode("utf-8", "replace").decode().split("?")[0] in said
        assert "\n" not in said
        assert refused.value.hint
        assert refused.value.exit_code == 3
    else:
        # as given on the command line too: a bare name, which may begin with a dash
        for given in (path, Path(path.name)):
            found, count, _ = taken(given)
            assert re.search(case.says, " ".join(found.notices))
            assert case.frames in (None, count)
            assert found.video.frame_count in (count, count + 1)
            assert (found.video.width_px, found.video.height_px) == case.size
    assert sorted(p for p in tmp_path.rglob("*")) == before, "wrote beside the file"


def test_works_means_without_a_word(tmp_path):
    plain = [case for case in CASES if case.outcome == "works" and not case.says]
    assert len(plain) > 20
    for case in plain[:3]:
        assert probe(case.make(tmp_path)).notices == ()


def test_the_picture_is_shown_as_players_show_it(tmp_path):
    """Every display matrix against what ffmpeg's own automatic turning gives."""
    plain = media.written("plain.mp4", codec=(*media.X264, "-crf", "8"))(tmp_path)
    for turn in (0, 90, 180, 270):
        for flip in ((), ("-display_hflip",), ("-display_vflip",)):
            path, raw = tmp_path / "turned.mp4", tmp_path / "turned.raw"
            ffmpeg("-display_rotation", turn, *flip, "-i", plain, "-c", "copy", path)
            ffmpeg("-i", path, "-frames:v", 1, "-pix_fmt", "gray", "-f", "rawvideo", raw)
            found = probe(path).video
            shown = next(read_frames(path, found, grey=True)).image
            theirs = np.frombuffer(raw.read_bytes(), np.uint8).reshape(shown.shape)
            assert np.abs(shown.astype(int) - theirs).mean() < 3, (turn, flip)


def frames_or_refusal(path):
    """How many frames come out of a damaged file; 0 where it is refused by its name."""
    try:
        return taken(path)[1]
    except LaunchsideError as error:
        said = str(error)
    assert path.name in said
    return 0


@pytest.mark.parametrize("share", [0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.98])
def test_cut_short_it_gives_what_is_left_or_is_refused(tmp_path, share):
    count = frames_or_refusal(media.cut(share)(tmp_path))
    assert count <= 30
    assert count > 5 or share < 0.65  # from there on the index and most pictures are there


def test_flipped_bits_never_do_worse_than_a_refusal(tmp_path):
    """One to eight bits anywhere, a hundred times, in each container in turn."""
    short = media.picture(size="96x64", seconds=0.5)
    kinds = ["p.mkv", "p.mov", "p.mp4", "p.avi"]
    plain = [media.written(name, source=short)(tmp_path).read_bytes() for name in kinds]
    usable = 0
    for seed in range(100):
        chance = random.Random(seed)
        data = bytearray(plain[seed % len(plain)])
        for _ in range(chance.randint(1, 8)):
            data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
        path = tmp_path / f"flipped-{seed}-{kinds[seed % len(kinds)]}"
        path.write_bytes(data)
        usable += frames_or_refusal(path) > 0
    assert usable > 60  # players show most of these too


@pytest.fixture
def locked():
    """A file that nobody may read; who runs as root, and might, is somebody else meanwhile."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        path = media.written("locked.mp4")(folder)
        probe(path)  # what it imports must be there before
        path.chmod(0)
        root = os.geteuid() == 0
        if root:
            os.seteuid(NOBODY)
        yield path
        if root:
            os.seteuid(0)


def test_a_file_one_may_not_read_is_refused(locked):
    with pytest.raises(MediaError, match=r"locked\.mp4: you may not read it"):
        probe(locked)


def test_a_refused_permission_is_told_as_such(tmp_path, monkeypatch):
    path = media.written("locked.mp4")(tmp_path)

    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr("studio.ingest.probe.av.open", refuse)
    with pytest.raises(MediaError, match=r"locked\.mp4: you may not read it"):
        probe(path)
