"""From noted pictures to the clip frame of every picture."""

import numpy as np

from studio.playhead.settle import bridge

FRAMES = np.arange(60, dtype=np.int32)


def bridged(picked):
    picked = np.array(picked)
    likes = [np.abs(FRAMES - p).astype(float) for p in picked]
    bridge(picked, [FRAMES] * len(picked), likes)
    return picked.tolist()


def test_a_visit_elsewhere_amid_play_is_not_believed():
    assert bridged([10, 11, 40, 13, 14]) == [10, 11, 13, 13, 14]
    assert bridged([10, 11, 40, 41, 13, 14]) == [10, 11, 13, 13, 13, 14]


def test_drags_loops_and_rests_are_left_alone():
    for path in (
        [10, 11, 40, 41, 42, 14, 15],  # too long for a spoilt picture
        [10, 14, 20, 18, 12],  # a drag forth and back
        [57, 58, 59, 0, 1, 2],  # a loop
        [10, 10, 14, 10, 10],  # a nudge and back, at rest
        [10, 11, 12, 13, 14],
        [10, 11, -1, 12, 13],  # away from the clip for a moment
    ):
        assert bridged(path) == path
