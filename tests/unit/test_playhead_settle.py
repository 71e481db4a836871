"""From noted pictures to the clip frame of every picture."""

import numpy as np

from studio.model.playhead import STATES
from studio.playhead.runs import plays_of, runs_of, states_of
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


def said(frames, tick_s=1 / 30):
    """States of pictures that show these clip frames, a clip of 30 frames a second."""
    time_s, clip_s = np.arange(len(frames)) * tick_s, np.arange(300) / 30
    runs = runs_of(np.array(frames), time_s, len(frames) * tick_s)
    codes = states_of(runs, plays_of(runs, clip_s, tick_s), clip_s, len(frames))
    return [STATES[code] for code in codes]


def test_even_steps_by_hand_are_no_slow_play():
    stepped = [9] * 20 + [10 + k // 8 for k in range(64)] + [18] * 20
    assert set(said(stepped)) == {"paused"}


def test_play_at_a_quarter_of_its_rate():
    slow = [9] * 20 + [10 + k // 4 for k in range(64)] + [26] * 20
    states = said(slow)
    assert set(states[22:82]) == {"playing"}
    assert set(states[:18] + states[88:]) == {"paused"}


def test_a_short_rest_before_play_is_a_pause_and_a_drag_is_none():
    states = said([4] * 10 + list(range(5, 30)) + [29] * 20 + [33, 40, 51, 60, 52, 44] + [44] * 20)
    assert set(states[:8]) == {"paused"}
    assert set(states[12:33]) == {"playing"}
    assert set(states[38:54]) == {"paused"}
    assert set(states[55:60]) == {"scrubbing"}
