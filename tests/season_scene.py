"""Small episodes that need no model: a talk-over recording with captions of its own."""

import json
import subprocess
import sys
import time
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import numpy as np

from studio.episode_file import write_new
from tests.conftest import write_video

LINES = (
    "Hello and welcome to stroke surgery.",
    "What I like is the posture at the catch, that is really strong.",
    "What I would change is the finish, you lay back too far.",
    "Stop the body at one o'clock and let the arms finish.",
)
SECONDS = 3


def talk(path: Path, shade: int) -> Path:
    """A recording of 160x120: a square that wanders over a background of its own shade."""
    images = []
    for i in range(SECONDS * 10):
        image = np.full((120, 160, 3), shade, np.uint8)
        image[40:60, 5 * i % 140 : 5 * i % 140 + 20] = (200, 120, 40)
        images.append(image)
    sound = 0.1 * np.sin(np.arange(SECONDS * 16000) * 440 * 2 * np.pi / 16000)
    return write_video(path, images, rate=Fraction(10), sound=sound, sound_rate=16000)


def captions(path: Path) -> Path:
    """The talk's words, evenly over its seconds."""
    step = 1000 * SECONDS // len(LINES)
    cues = [
        f"{i + 1}\n00:00:0{i * step // 1000},{i * step % 1000:03} --> "
        f"00:00:0{(i * step + step) // 1000},{(i * step + step) % 1000:03}\n{line}\n"
        for i, line in enumerate(LINES)
    ]
    path.write_text("\n".join(cues))
    return path


def talk_episode(folder: Path, number: int, alias: str = "Robin") -> Path:
    """An episode of a recording and captions, ready to be made."""
    folder.mkdir(parents=True)
    sources = {
        "recording": talk(folder / "recording.mp4", 40 + 10 * number),
        "captions": captions(folder / "captions.srt"),
    }
    about = {"title": f"Review {number}", "series": "Stroke Surgery",
             "club": "Quillwater Rowing Club", "alias": alias, "consent": "yes"}  # fmt: skip
    write_new(folder, sources, about, 0.0, 0.0)
    return folder


def _until(true, folder: Path) -> None:
    end = time.monotonic() + 90
    while not true():
        assert time.monotonic() < end, (folder / "log.txt").read_text()
        time.sleep(0.1)


@contextmanager
def dask_cluster(folder: Path, workers: int, threads: int = 1):
    """A scheduler and workers of our own; yields the address; ended with the block."""
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / "scheduler.json"
    dask = [sys.executable, "-m", "dask"]
    scheduler = ["scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", str(file),
                 "--dashboard-address", "127.0.0.1:0"]  # fmt: skip
    worker = ["worker", "--scheduler-file", str(file), "--host", "127.0.0.1", "--no-nanny",
              "--nthreads", str(threads), "--no-dashboard",
              "--local-directory", str(folder)]  # fmt: skip
    started = []
    with (folder / "log.txt").open("w") as log:
        try:
            started.append(subprocess.Popen([*dask, *scheduler], stdout=log, stderr=log))
            _until(file.exists, folder)
            hands = [[*dask, *worker]] * workers
            started += [subprocess.Popen(h, stdout=log, stderr=log) for h in hands]
            said = folder / "log.txt"
            _until(lambda: said.read_text().count("Registered to:") >= workers, folder)
            yield json.loads(file.read_text())["address"]
        finally:
            for process in reversed(started):  # the scheduler last, or the workers wait for it
                process.terminate()
                try:
                    process.wait(5)
                except subprocess.TimeoutExpired:
                    process.kill()
                    process.wait(10)
