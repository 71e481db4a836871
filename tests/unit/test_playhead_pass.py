"""One pass over a recording: what it keeps, what it says on the way."""

import pickle

import numpy as np
import pytest

from studio.ingest.probe import probe
from studio.playhead.follow import follow
from studio.playhead.library import make
from studio.playhead.watch import LOOK_BACK, Watcher
from tests.playhead_desk import (
    CLIP_FPS,
    CLIP_PX,
    SCREEN_PX,
    Moment,
    Scene,
    clip_images,
    screens,
    talk,
    write,
)

MOST_BYTES = 1500
"""Kept of one picture: 160 MB for an hour at 30 fps; one screen alone takes 58 kB."""


@pytest.fixture(scope="module")
def clip():
    return clip_images()


def watched(clip, scene, rounds):
    library = make(np.arange(len(clip)) / CLIP_FPS, clip.mean(axis=3).astype(np.uint8), CLIP_PX)
    watcher = Watcher(library, SCREEN_PX, 1.0)
    pictures = [image.mean(axis=2).astype(np.uint8) for image in screens(scene, clip)]
    for k in range(rounds * len(pictures)):
        watcher.feed(k / 30, pictures[k % len(pictures)])
    return watcher


def test_no_picture_is_kept_however_long_the_recording(clip):
    once, thrice = (watched(clip, Scene(talk()[12:40]), rounds) for rounds in (1, 3))
    sizes = [len(pickle.dumps(w.rows)) for w in (once, thrice)]
    assert sizes[1] - sizes[0] < 2 * 28 * MOST_BYTES
    assert sizes[1] < 84 * MOST_BYTES


def test_pictures_kept_while_the_clip_is_lost_are_few(clip):
    rng = np.random.default_rng(2)
    library = make(np.arange(len(clip)) / CLIP_FPS, clip.mean(axis=3).astype(np.uint8), CLIP_PX)
    watcher = Watcher(library, SCREEN_PX, 1.0)
    for k in range(2 * LOOK_BACK):
        watcher.feed(k / 30, rng.integers(0, 255, SCREEN_PX[::-1], np.uint8))
    assert len(watcher._lost) <= LOOK_BACK


class Told:
    """A progress that notes what it is told."""

    def __init__(self):
        self.said = []

    def start(self, label, total, unit):
        self.said.append([label, total, unit, 0])

    def advance(self, amount=1):
        self.said[-1][3] += amount

    def finish(self):
        self.said.append(["done", 0, "", 0])


def test_progress_counts_every_frame(tmp_path, clip):
    scene = Scene([Moment(f) for f in range(30)])
    path = write(tmp_path / "r.mp4", screens(scene, clip), scene.times())
    clip_path = write(tmp_path / "c.mp4", clip, np.arange(len(clip)) / CLIP_FPS)
    told = Told()
    follow(path, probe(path), clip_path, probe(clip_path), progress=told)
    assert [s[0] for s in told.said] == ["Reading the clip", "done", "Following the clip", "done"]
    assert told.said[0][1:] == [len(clip), "frame", len(clip)]
    assert told.said[2][1:] == [30, "frame", 30]
