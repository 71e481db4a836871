"""Clips as phones write them, all the way into the program: upright, in place, in time."""

import subprocess
from dataclasses import replace

import cv2
import imageio_ffmpeg
import numpy as np
import pytest

from studio.ingest.probe import probe
from tests.unit.test_deliver_render import episode, make, pictures

__all__ = ["episode"]


def hevc(transfer):
    """10-bit H.265 whose levels are taken for HDR light."""
    tags = f"setparams=color_primaries=bt2020:colorspace=bt2020nc:color_trc={transfer}"
    return ["-vf", f"format=yuv420p10le,{tags}", "-c:v", "libx265",
            "-x265-params", "log-level=none", "-tag:v", "hvc1"]  # fmt: skip


KINDS = {
    "quarter turn": (["-vf", "transpose=cclock"], 90),
    "half turn": (["-vf", "hflip,vflip"], 180),
    "three quarter turns": (["-vf", "transpose=clock"], 270),
    "HLG, 10 bits": (hevc("arib-std-b67"), 0),
    "PQ, 10 bits": (hevc("smpte2084"), 0),
    "variable rate": (["-vf", "select='not(eq(mod(n,7),3))'", "-fps_mode", "vfr"], 0),
    "odd size": (["-vf", "crop=iw-1:ih-1:0:0", "-pix_fmt", "yuv444p"], 0),
    "wide pixels": (["-vf", "scale=iw/2:ih,setsar=2"], 0),
}


def ffmpeg(*arguments):
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *map(str, arguments)]
    subprocess.run(command, check=True, stdin=subprocess.DEVNULL)


def phone_clip(clip, kind, folder):
    options, turn = KINDS[kind]
    flat, out = folder / "flat.mp4", folder / "clip.mp4"
    quality = [] if "libx265" in options else ["-crf", "8"]
    ffmpeg("-i", clip, *quality, *options, flat)
    ffmpeg("-display_rotation", -turn, "-i", flat, "-c", "copy", out)
    return out


def held(episode, out):
    """The clip's part of the screen in the middle of the hold on the coach's rest."""
    plan, _ = make(episode, out)
    hold = next(h for h in plan.holds if not h.inserted)
    image = pictures(out)[round((hold.program_start_s + hold.duration_s / 2) * 30)]
    return image[14:124, 24:208].astype(np.float64)


@pytest.fixture(scope="module")
def plain(episode, tmp_path_factory):
    return held(episode, tmp_path_factory.mktemp("plain") / "episode.mp4")


@pytest.mark.parametrize("kind", KINDS)
def test_a_phones_clip_lies_upright_in_its_place(episode, plain, tmp_path, kind):
    recording, clip, head = episode
    clip = phone_clip(clip, kind, tmp_path)
    found = held((recording, clip, replace(head)), tmp_path / "episode.mp4")
    if "bits" in kind:
        assert probe(clip).video.transfer in ("hlg", "pq")
        # tagged as HDR the levels mean other light, but the same things are in the same places
        grey = [
            cv2.cvtColor(i.astype(np.uint8), cv2.COLOR_BGR2GRAY).ravel() for i in (found, plain)
        ]
        assert np.corrcoef(*grey)[0, 1] > 0.8
    else:
        assert np.abs(found - plain).mean() < 3
        assert np.percentile(np.abs(found - plain), 99) < 40
