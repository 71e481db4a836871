"""Whole renders of tiny episodes: frames, sync, captions, chapters, faces, failure."""

import json
import re
import struct
import subprocess
from dataclasses import replace
from fractions import Fraction

import av
import cv2
import imageio_ffmpeg
import numpy as np
import pytest
from mutagen.mp4 import MP4

from studio.config import About, Corrections, HoldFix
from studio.deliver.beside import Athlete
from studio.deliver.finish import finish
from studio.deliver.planes import Coding, recoded
from studio.deliver.render import render
from studio.deliver.sound import write_sound
from studio.errors import LaunchsideError
from studio.ingest.frames import read_frames
from studio.ingest.probe import probe
from studio.model.speech import Chapter, Outline
from studio.progress import Quiet
from tests.edit_scene import (
    AFFINE,
    CLIP_PX,
    SCREEN_PX,
    cue,
    make_plan,
    playhead,
    settings,
    technique,
)

FLASHES_S = (0.5, 1.5, 2.5)
PARTS = ((0.5, "absent", None, 0.0), (1.0, "playing", 0.0, 1.0), (1.5, "paused", 1.5, 0.0))

DULL = 15
"""The recording shows the clip this much darker than it is."""


def clip_image(number):
    """A grey room with a bright moving bar, and texture where the face is."""
    image = np.full((CLIP_PX[1], CLIP_PX[0], 3), 90, np.uint8)
    image[40:60, number % 120 : number % 120 + 12] = (60, 160, 210)
    sway = np.cos(2 * np.pi * (number / 30 - 0.5))
    x = round(78 - 8 * sway)
    for row in range(10, 23, 4):
        for column in range(x - 6, x + 7, 4):
            image[row : row + 2, column : column + 2] = 255
            image[row + 2 : row + 4, column + 2 : column + 4] = 0
    return image


def screen_image(clip_number, *, flash=False):
    """The recording's screen: the clip scaled by 1.2 at (20, 12), a flash in a corner."""
    image = np.full((SCREEN_PX[1], SCREEN_PX[0], 3), 30, np.uint8)
    if clip_number is not None:
        matrix = AFFINE[0].copy()
        matrix[:, 2] += matrix[:, :2] @ (0.5, 0.5) - 0.5
        duller = cv2.subtract(clip_image(clip_number), np.full(3, DULL, np.uint8))
        cv2.warpAffine(duller, matrix, SCREEN_PX, dst=image,
                       borderMode=cv2.BORDER_TRANSPARENT)  # fmt: skip
    if flash:
        image[130:144, 218:240] = 255
    return image


@pytest.fixture(scope="module")
def episode(tmp_path_factory):
    """Clip, and a 3 s recording of variable frame rate that flashes and clicks together."""
    from tests.conftest import write_video

    folder = tmp_path_factory.mktemp("episode")
    clip = write_video(folder / "clip.mp4", [clip_image(i) for i in range(90)])
    head = playhead(PARTS)
    rng = np.random.default_rng(3)
    keep = np.sort(np.concatenate([[0, 15, 16, 45, 46, 75, 76], rng.choice(90, 50, False)]))
    keep = np.unique(keep)
    flashes = {round(f * 30) for f in FLASHES_S}
    images = [
        screen_image(None if np.isnan(c) else round(c * 30), flash=n in flashes)
        for n, c in enumerate(head.clip_s)
    ]
    sound = np.zeros(3 * 48000, np.float32)
    for time in FLASHES_S:
        sound[round(time * 48000) : round(time * 48000) + 24] = 0.5
    sound += np.random.default_rng(1).normal(0, 0.001, len(sound)).astype(np.float32)
    recording = write_video(folder / "recording.mp4", [images[n] for n in keep],
                            times_s=[n / 30 for n in keep], sound=sound)  # fmt: skip
    rows = {name: getattr(head, name)[keep] for name in
            ("recording_s", "clip_s", "state", "placement", "confidence", "second_s")}  # fmt: skip
    return recording, clip, replace(head, **rows)


def make(episode, out, *, consent="yes", parts=PARTS, about=None, others=None,
         guests=None, **changes):  # fmt: skip
    recording, clip, head = episode
    given = {
        "recording": probe(recording),
        "clip": probe(clip),
        "playhead": head,
        "technique": technique(),
        "settings": settings(consent, **({"episode": about} if about else {})),
    } | changes
    plan = make_plan(parts, **given)
    picture, sound = out.parent / "work" / "picture.mp4", out.parent / "work" / "sound.m4a"
    source = (recording, given["recording"]) if given["recording"] else None
    frames = render(
        plan,
        recording=source,
        clip=(clip, given["clip"]) if given["clip"] else None,
        playhead=given["playhead"],
        technique=given["technique"],
        others=others,
        guests=guests or {},
        settings=given["settings"],
        out=picture,
        progress=Quiet(),
    )
    told = write_sound(plan, source, target_lufs=given["settings"].sound.loudness_lufs, out=sound)
    about = given["settings"].episode
    finish(plan, picture=picture, sound=sound if told else None, about=about, out=out)
    return plan, {"frames": frames} | (told or {})


def pictures(path):
    return [f.image for f in read_frames(path, probe(path).video)]


@pytest.fixture(scope="module")
def made(episode, tmp_path_factory):
    """The episode with a hold of 1 s inserted at recording time 1.0."""
    out = tmp_path_factory.mktemp("out") / "episode.mp4"
    chapters = (Chapter(0.0, 1.0, "One & <two>; #3 = \\4", None, "intro"),
                Chapter(1.0, 3.0, "Two", "catch", "change"))  # fmt: skip
    fixes = Corrections(holds=(HoldFix("add", 1.0, "catch", 1.0),))
    cues = (cue(0.1, 0.9, "Knee <90 & ready", "to --> go"), cue(1.6, 2.8))
    plan, told = make(episode, out, outline=Outline(chapters, ()), corrections=fixes, cues=cues,
                      about=About(title="Early hands", language="en"))  # fmt: skip
    return out, plan, told


def test_every_program_frame_is_there_at_its_own_time(made):
    out, plan, told = made
    media = probe(out)
    assert plan.duration_s == 4
    assert told["frames"] == media.video.frame_count == 120
    assert media.video.frame_rate == 30
    assert not media.video.variable_rate
    times = [f.time_s for f in read_frames(out, media.video)]
    assert times == [Fraction(n, 30) for n in range(120)]


def test_flash_and_click_fall_together_from_a_variable_picture(made):
    out, plan, _ = made
    light = np.array([i[132:142, 222:236].mean() for i in pictures(out)])
    flashes = np.flatnonzero(light > 128) / 30
    expected = [float(plan.program_time(t)) for t in FLASHES_S]
    assert list(flashes) == pytest.approx(expected)
    with av.open(str(out)) as container:
        frames = [f.to_ndarray()[0] for f in container.decode(audio=0)]
        first = 0
    sound = np.abs(np.concatenate(frames))[first:]
    for time in expected:
        near = slice(round((time - 0.05) * 48000), round((time + 0.05) * 48000))
        click = (near.start + int(np.argmax(sound[near]))) / 48000
        assert abs(click - time) <= 0.010  # 10 ms


def test_it_is_h264_and_aac_with_the_index_in_front(made):
    out, _, told = made
    with av.open(str(out)) as container:
        kinds = {s.type: s.codec_context.name for s in container.streams if s.type != "data"}
        assert kinds == {"video": "h264", "audio": "aac", "subtitle": "mov_text"}
        assert container.streams.audio[0].language == "eng"
        assert container.streams.video[0].codec_context.pix_fmt == "yuv420p"
        assert container.metadata["title"] == "Early hands"
        titles = [c["metadata"]["title"] for c in container.chapters()]
        starts = [c["start"] * c["time_base"] for c in container.chapters()]
    assert titles == ["One & <two>; #3 = \\4", "Two"]
    assert starts == [0, 2]
    data = out.read_bytes()
    assert data.index(b"moov") < data.index(b"mdat")
    assert told["true_peak_db"] <= -1


def test_captions_keep_every_sign_and_move_with_the_hold(made):
    out, _, _ = made
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-i", str(out), "-map", "0:s:0",
               "-f", "srt", "-"]  # fmt: skip
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert "Knee <90 & ready" in text
    assert re.search(r"to --?> go|to → go", text)
    assert "00:00:02,600 --> 00:00:03,800" in text


def boxes(data):
    """Type and content of each box in a row of them (ISO/IEC 14496-12, 4.2)."""
    at = 0
    while at + 8 <= len(data):
        size, kind = struct.unpack_from(">I4s", data, at)
        yield kind, data[at + 8 : at + size]
        at += size


def inside(data, *path):
    """Content of the box at a path of types."""
    for kind in path:
        data = next(content for name, content in boxes(data) if name == kind)
    return data


def numbers(table, width, skip=8):
    """The entries of a full box that holds a count and a table of 32-bit numbers."""
    flat = struct.unpack(f">{(len(table) - skip) // 4}I", table[skip:])
    return [flat[i : i + width] for i in range(0, len(flat), width)]


def timed_text(path):
    """`(start_s, text)` of the samples of the timed-text track, by 3GPP TS 26.245, 5.17."""
    data = path.read_bytes()
    for kind, track in boxes(inside(data, b"moov")):
        if kind == b"trak" and inside(track, b"mdia", b"hdlr")[8:12] == b"sbtl":
            break
    table = inside(track, b"mdia", b"minf", b"stbl")
    assert inside(table, b"stsd")[12:16] == b"tx3g"
    scale = struct.unpack_from(">I", inside(track, b"mdia", b"mdhd"), 12)[0]
    durations = [d for n, d in numbers(inside(table, b"stts"), 2) for _ in range(n)]
    sizes = [s for (s,) in numbers(inside(table, b"stsz"), 1, skip=12)]
    offsets = [o for (o,) in numbers(inside(table, b"stco"), 1)]
    runs = numbers(inside(table, b"stsc"), 3)
    per_chunk = [next(n for first, n, _ in reversed(runs) if first <= chunk)
                 for chunk in range(1, len(offsets) + 1)]  # fmt: skip
    now, sample = 0, 0
    for offset, count in zip(offsets, per_chunk, strict=True):
        at = offset
        for _ in range(count):
            length = struct.unpack_from(">H", data, at)[0]
            yield now / scale, data[at + 2 : at + 2 + length].decode()
            now, at, sample = now + durations[sample], at + sizes[sample], sample + 1


def test_chapters_and_captions_are_seen_without_libav(made):
    """Chapters by mutagen, captions by the standard itself: players are of many makers."""
    out, plan, _ = made
    chapters = MP4(out).chapters
    assert [(c.start, c.title) for c in chapters] == [(0, "One & <two>; #3 = \\4"), (2, "Two")]
    found = [(start, text) for start, text in timed_text(out) if text]
    assert len(found) == len(plan.cues)
    for (start, text), cue_ in zip(found, plan.cues, strict=True):
        assert start == pytest.approx(cue_.start_ms / 1000, abs=0.001)
        assert text.split("\n")[0] == cue_.lines[0]


def test_a_hold_shows_the_clips_own_picture_in_its_place(made):
    out, plan, _ = made
    images = pictures(out)
    room = (slice(30, 40), slice(150, 200))  # inside the clip's picture, no overlay near
    outside = (slice(30, 40), slice(4, 16))
    bar = (slice(66, 76), slice(77, 84))
    for hold in plan.holds:
        number = round((hold.program_start_s + hold.duration_s / 2) * 30)
        assert images[number][room].mean() == pytest.approx(90, abs=3)
        assert images[number][outside].mean() == pytest.approx(30, abs=3)
    covered = next(h for h in plan.holds if not h.inserted)
    number = round((covered.program_start_s + covered.duration_s / 2) * 30)
    # frame 45 of the clip: its bar is at 45 to 57, on the screen at 74 to 88
    np.testing.assert_allclose(images[number][bar].mean((0, 1)), (60, 160, 210), atol=25)
    assert images[20][room].mean() == pytest.approx(90 - DULL, abs=3)  # and the recording elsewhere


@pytest.mark.parametrize("rgb", [(210, 160, 60), (90, 90, 90), (20, 200, 180)])
def test_another_matrix_keeps_the_colour(rgb):
    def coded(kr, kb):  # ITU-R BT.601-7 and BT.709-6, limited range
        r, g, b = (c / 255 for c in rgb)
        y = kr * r + (1 - kr - kb) * g + kb * b
        return (16 + 219 * y, 128 + 112 * (b - y) / (1 - kb), 128 + 112 * (r - y) / (1 - kr))

    def flat(values):
        return tuple(
            np.full(s, round(v), np.uint8)
            for v, s in zip(values, ((8, 8), (4, 4), (4, 4)), strict=True)
        )

    sd, hd = coded(0.299, 0.114), coded(0.2126, 0.0722)
    got = recoded(flat(sd), Coding("bt601"), Coding("bt709"))
    assert [p.mean() for p in got] == pytest.approx(hd, abs=1.2)
    back = recoded(got, Coding("bt709"), Coding("bt601"))
    assert [p.mean() for p in back] == pytest.approx(sd, abs=2)
    assert recoded(got, Coding("bt709"), Coding("bt709")) is got


def sharpness(image, clip_s):
    x = 78 - 8 * np.cos(2 * np.pi * (clip_s - 0.5))
    centre = AFFINE[0, :, :2] @ (x, 16) + AFFINE[0, :, 2]
    column, row = np.round(centre).astype(int)
    part = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)[row - 6 : row + 6, column - 6 : column + 6]
    return float(part.std())


@pytest.mark.parametrize(("consent", "face"), [("yes", True), ("no", True), ("no", False)])
def test_the_face_is_blurred_in_every_frame_without_consent(episode, tmp_path, consent, face):
    out = tmp_path / "episode.mp4"
    plan, _ = make(episode, out, consent=consent, technique=technique(face=face))
    images = pictures(out)
    worst, best = 0.0, 255.0
    for shot in plan.shots:
        first = round(shot.program_start_s * 30)
        for step in range(round(shot.duration_s * 30)):
            at = float(shot.source_start_s + step * shot.speed / 30)
            row = np.searchsorted(episode[2].recording_s, at + 0.4 / 30, "right") - 1
            clip_s = episode[2].clip_s[row]
            if np.isnan(clip_s):
                continue
            got = sharpness(images[first + step], clip_s)
            worst, best = max(worst, got), min(best, got)
    if consent == "yes":
        assert best > 40
    else:
        assert worst < 25


def test_a_draft_says_so(episode, tmp_path):
    plain, draft = tmp_path / "plain.mp4", tmp_path / "draft.mp4"
    make(episode, plain, consent="no")
    make(episode, draft, consent="unknown")
    corner = (slice(5, 16), slice(190, 230))
    difference = np.abs(
        pictures(draft)[3][corner].astype(int) - pictures(plain)[3][corner].astype(int)
    )
    assert difference.max() > 60


def test_the_clip_alone_makes_a_silent_episode(episode, tmp_path):
    out = tmp_path / "episode.mp4"
    plan, told = make(episode, out, recording=None, playhead=None,
                      about=About(title="Early hands"))  # fmt: skip
    media = probe(out)
    assert media.audio is None
    assert media.video.frame_count == told["frames"] == round(plan.duration_s * 30)
    images = pictures(out)
    assert images[0].mean() < 5  # the title card comes out of black
    holds = [round((h.program_start_s + h.duration_s / 2) * 30) for h in plan.holds]
    for number in holds:
        assert np.abs(images[number].astype(int) - images[number + 3].astype(int)).mean() < 1.5


def test_the_recording_alone_is_passed_through(episode, tmp_path):
    out = tmp_path / "episode.mp4"
    make(episode, out, clip=None, playhead=None, technique=None)
    recording = episode[0]
    source = pictures(recording)
    assert np.abs(pictures(out)[0].astype(int) - source[0].astype(int)).mean() < 3


def test_a_broken_source_leaves_nothing_behind(episode, tmp_path):
    out = tmp_path / "out" / "episode.mp4"
    broken = tmp_path / "recording.mp4"
    broken.write_bytes(episode[0].read_bytes()[:3000])
    media = probe(episode[0])
    with pytest.raises(LaunchsideError):
        render(
            make_plan(PARTS, recording=media, playhead=episode[2]),
            recording=(broken, media),
            clip=(episode[1], probe(episode[1])),
            playhead=episode[2],
            technique=technique(),
            others=None,
            guests={},
            settings=settings(),
            out=out,
            progress=Quiet(),
        )
    assert not out.exists()
    assert not out.parent.exists() or list(out.parent.iterdir()) == []


def test_what_render_tells_is_plain_data(made):
    assert json.loads(json.dumps(made[2])) == made[2]


def test_a_comparing_hold_shows_two_moments_beside_each_other(episode, tmp_path):
    out = tmp_path / "episode.mp4"
    fixes = Corrections(holds=(HoldFix("compare", 2.0, "catch", 1.0, to_s=1.0),))
    plan, _ = make(episode, out, corrections=fixes)
    hold = next(h for h in plan.holds if h.beside_s is not None)
    assert (hold.clip_s, hold.beside_s) == pytest.approx((1.5, 13 / 30), abs=0.04)
    image = pictures(out)[round((hold.program_start_s + hold.duration_s / 2) * 30)]
    # a dark ground all round, the clip's grey room left and right
    assert image[:, :2].mean() < 40
    for half in (image[40:100, 20:100], image[40:100, 140:220]):
        assert 70 < np.median(half) < 110


def test_a_comparing_hold_shows_the_athlete_of_another_episode(episode, tmp_path):
    from tests.conftest import write_video

    tinted = [clip_image(n) // 2 + np.array([90, 0, 0], np.uint8) for n in range(90)]
    clip = write_video(tmp_path / "guest.mp4", tinted)
    other = Athlete((clip, probe(clip)), technique(), False, None, "Lena")
    out = tmp_path / "episode.mp4"
    fixes = Corrections(holds=(HoldFix("compare", 2.0, "catch", 1.0, other="../lena"),))
    plan, _ = make(episode, out, corrections=fixes, guests={"../lena": other})
    hold = next(h for h in plan.holds if h.beside_episode == "../lena")
    image = pictures(out)[round((hold.program_start_s + hold.duration_s / 2) * 30)]
    blue = image[..., 0].astype(int) - image[..., 2]
    assert abs(np.median(blue[40:100, 20:100])) < 20  # our own grey room
    assert np.median(blue[40:100, 140:220]) > 60  # the other's blue one


def test_an_athlete_without_consent_is_blurred_beside_ours_too(tmp_path):
    from tests.conftest import write_video

    clip = write_video(tmp_path / "guest.mp4", [clip_image(n) for n in range(90)])
    faces = []
    for blur in (False, True):
        other = Athlete((clip, probe(clip)), technique(), blur, None, "Lena")
        image = other.side("catch", other.best("catch"), "Lena").picture
        faces.append(image[10:23, 64:77].std())
    assert faces[1] < faces[0] / 3
