"""Media made at test time, with known truth."""

import os
import signal
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

os.environ["LAUNCHSIDE_DEBUG"] = "1"
# a shell starts its background jobs deaf to Ctrl-C, and what the tests start would inherit that
signal.signal(signal.SIGINT, signal.default_int_handler)


def write_video(
    path: Path,
    images,
    *,
    rate: Fraction = Fraction(30),
    times_s=None,
    sound=None,
    sound_rate: int = 48000,
) -> Path:
    """H.264 from (H, W, 3) uint8 BGR images; `times_s` gives each frame its own time."""
    with av.open(str(path), "w") as container:
        height, width = images[0].shape[:2]
        stream = container.add_stream("libx264", rate=rate)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        stream.options = {"crf": "12", "preset": "ultrafast"}
        if times_s is not None:
            stream.codec_context.time_base = Fraction(1, 90000)
        audio = None
        if sound is not None:
            audio = container.add_stream("aac", rate=sound_rate, layout="mono")
        for index, image in enumerate(images):
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(image), format="bgr24")
            if times_s is not None:
                frame.pts, frame.time_base = round(times_s[index] * 90000), Fraction(1, 90000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
        if audio is not None:
            samples = np.asarray(sound, np.float32).reshape(1, -1)
            frame = av.AudioFrame.from_ndarray(samples, format="fltp", layout="mono")
            frame.sample_rate, frame.pts = sound_rate, 0
            container.mux(audio.encode(frame))
            container.mux(audio.encode(None))
    return path


@pytest.fixture
def make_video():
    """The function `write_video`."""
    return write_video


@pytest.fixture(scope="session")
def tiny_clip(tmp_path_factory):
    """30 frames of 160x120 at 30 fps; frame i is grey level 40 + 6 i, no sound."""
    images = [np.full((120, 160, 3), 40 + 6 * i, np.uint8) for i in range(30)]
    return write_video(tmp_path_factory.mktemp("media") / "clip.mp4", images)
