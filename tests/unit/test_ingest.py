"""Probe, frames and sound on media made here."""

import subprocess
from fractions import Fraction

import imageio_ffmpeg
import numpy as np
import pytest

from studio.errors import EvidenceError, MediaError
from studio.ingest.audio import read_audio
from studio.ingest.frames import read_frames
from studio.ingest.hdr import hlg_light, pq_light, to_sdr
from studio.ingest.probe import probe

FFMPEG = imageio_ffmpeg.get_ffmpeg_exe()


def ffmpeg(*args):
    subprocess.run([FFMPEG, "-v", "error", "-y", *map(str, args)], check=True)


def test_every_frame_comes_with_its_own_time(tiny_clip):
    media = probe(tiny_clip)
    frames = list(read_frames(tiny_clip, media.video, grey=True))
    assert [f.time_s for f in frames] == [Fraction(i, 30) for i in range(30)]
    levels = [float(f.image.mean()) for f in frames]
    assert np.all(np.diff(levels) > 3)
    assert media.video.frame_rate == 30
    assert not media.video.variable_rate
    assert "There is no sound." in media.notices


def test_a_start_in_the_middle_gives_the_same_frames(tiny_clip):
    media = probe(tiny_clip)
    whole = list(read_frames(tiny_clip, media.video, grey=True))
    late = list(read_frames(tiny_clip, media.video, grey=True, start_s=Fraction(17, 30)))
    assert [f.time_s for f in late] == [f.time_s for f in whole[17:]]
    np.testing.assert_array_equal(late[0].image, whole[17].image)


def test_a_variable_rate_is_seen_and_its_times_kept(tmp_path, make_video):
    times = [0.0, 0.033, 0.1, 0.2, 0.25, 0.5]
    images = [np.full((64, 64, 3), 40 * i, np.uint8) for i in range(6)]
    path = make_video(tmp_path / "v.mp4", images, times_s=times)
    media = probe(path)
    assert media.video.variable_rate
    got = [float(f.time_s) for f in read_frames(path, media.video)]
    assert got == pytest.approx(times, abs=1e-4)


@pytest.mark.parametrize("turn", [90, 180, 270])
def test_display_rotation_is_honoured(tmp_path, make_video, turn):
    image = np.zeros((96, 160, 3), np.uint8)
    image[:32, :40] = 255  # a mark in the top left corner, as stored
    flat = make_video(tmp_path / "flat.mp4", [image] * 3)
    turned = tmp_path / "turned.mp4"
    ffmpeg("-display_rotation", -turn, "-i", flat, "-c", "copy", turned)
    media = probe(turned)
    assert media.video.rotation_deg == turn
    frame = next(read_frames(turned, media.video, grey=True)).image
    assert frame.shape == np.rot90(image[..., 0], -turn // 90).shape
    expected = np.rot90(image[..., 0], -turn // 90)
    assert np.abs(frame.astype(int) - expected).mean() < 8


HLG = "log-level=none:colorprim=bt2020:transfer=arib-std-b67:colormatrix=bt2020nc"


def test_hdr_is_mapped_to_ordinary_range(tmp_path):
    path = tmp_path / "hlg.mp4"
    # HLG signal 0.75 is diffuse white (ITU-R BT.2408-7, table 1: 203 cd/m2)
    grey = "color=c=0xbfbfbf:s=128x96:r=30:d=0.2,format=yuv420p10le"
    ffmpeg("-f", "lavfi", "-i", grey, "-c:v", "libx265", "-x265-params", HLG, path)
    media = probe(path)
    assert media.video.transfer == "hlg"
    frame = next(read_frames(path, media.video)).image
    white = to_sdr(np.full(3, 0.75), "hlg")
    assert frame.shape == (96, 128, 3)
    assert frame.mean() == pytest.approx(255 * white.mean(), abs=4)


def test_hdr_curves_reproduce_published_points():
    # ITU-R BT.2408-7 table 1: diffuse white at 75 % HLG and 58 % PQ, both 203 cd/m2
    assert hlg_light(np.full(3, 0.75))[0] == pytest.approx(203, abs=2)
    assert pq_light(np.array(0.58)) == pytest.approx(203, abs=3)
    # SMPTE ST 2084: full signal is 10 000 cd/m2
    assert pq_light(np.array(1.0)) == pytest.approx(10000)


def test_pixels_that_are_not_square_are_stretched(tmp_path):
    path = tmp_path / "anamorphic.mp4"
    ffmpeg("-f", "lavfi", "-i", "testsrc2=s=90x96:r=30:d=0.1", "-vf", "setsar=4/3", path)
    media = probe(path)
    assert (media.video.width_px, media.video.height_px) == (120, 96)
    assert next(read_frames(path, media.video)).image.shape == (96, 120, 3)


def test_late_sound_is_padded_so_that_both_share_one_clock(tmp_path):
    path = tmp_path / "late.mkv"
    ffmpeg("-f", "lavfi", "-i", "testsrc2=s=64x64:r=30:d=2", "-itsoffset", "0.5",
           "-f", "lavfi", "-i", "sine=f=1000:r=48000:d=1", "-c:a", "pcm_s16le", path)  # fmt: skip
    media = probe(path)
    sound = read_audio(path, media, rate_hz=16000, channels=1)[:, 0]
    first = np.flatnonzero(np.abs(sound) > 0.02)[0] / 16000
    assert first == pytest.approx(0.5, abs=0.005)


def test_a_click_keeps_its_place_through_aac(tmp_path, make_video):
    sound = np.zeros(48000, np.float32)
    sound[24000:24480] = 0.8 * np.sin(np.arange(480) * 2 * np.pi / 48)
    path = make_video(tmp_path / "c.mp4", [np.zeros((64, 64, 3), np.uint8)] * 30, sound=sound)
    got = read_audio(path, probe(path), rate_hz=48000, channels=2)
    assert got.shape[1] == 2
    first = np.flatnonzero(np.abs(got[:, 0]) > 0.2)[0] / 48000
    assert first == pytest.approx(0.5, abs=0.003)


def test_no_sound_is_not_enough(tiny_clip):
    with pytest.raises(EvidenceError, match="no sound"):
        read_audio(tiny_clip, probe(tiny_clip), rate_hz=16000, channels=1)


@pytest.mark.parametrize(
    "name", ["missing.mp4", "text.mp4", "empty.mp4", "folder.mp4", "-dash.mp4"]
)
def test_what_is_no_video_is_refused_by_name(tmp_path, name):
    path = tmp_path / name
    if name in ("text.mp4", "-dash.mp4"):
        path.write_text("hello " * 100)
    elif name == "empty.mp4":
        path.touch()
    elif name == "folder.mp4":
        path.mkdir()
    with pytest.raises(MediaError, match=name):
        probe(path)
