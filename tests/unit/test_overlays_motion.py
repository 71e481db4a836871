"""Easing and wording."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from overlays import motion
from overlays.wording import angle_text, degrees


def test_ease_is_smooth_flat_at_the_ends_and_rising() -> None:
    steps = [motion.ease(i / 200) for i in range(-20, 221)]
    assert steps[0] == 0
    assert steps[-1] == 1
    assert motion.ease(0.5) == pytest.approx(0.5)
    rises = [b - a for a, b in pairwise(steps)]
    assert min(rises) >= 0
    # The quintic's greatest slope is 1.875, in the middle.
    assert max(rises) * 200 == pytest.approx(1.875, abs=0.01)
    assert motion.ease(0.01) < 1e-4


def test_fade_comes_and_goes() -> None:
    assert motion.fade(1.99, 2, 5) == 0
    assert motion.fade(2, 2, 5) == 0
    assert motion.fade(3.5, 2, 5) == 1
    assert 0 < motion.fade(2.1, 2, 5) < 1
    assert 0 < motion.fade(4.95, 2, 5) < 1
    assert motion.fade(5, 2, 5) == 0


def test_a_short_stay_still_reaches_full() -> None:
    assert max(motion.fade(2 + i / 1000, 2, 2.2) for i in range(200)) == pytest.approx(1, abs=0.01)


def test_fade_without_times_is_a_switch() -> None:
    assert motion.fade(2, 2, 3, in_s=0, out_s=0) == 1


def test_sweep_opens_once() -> None:
    assert motion.sweep(1, 2) == 0
    assert motion.sweep(2.3, 2) == pytest.approx(0.5)
    assert motion.sweep(9, 2) == 1
    assert motion.sweep(2, 2, over_s=0) == 1


def test_settle_halves_the_way() -> None:
    assert motion.settle(10, 20, 0.12) == pytest.approx(15)
    once = motion.settle(10, 20, 0.2)
    twice = motion.settle(motion.settle(10, 20, 0.1), 20, 0.1)
    assert once == pytest.approx(twice)


@pytest.mark.parametrize(
    ("name", "value", "text"),
    [
        ("trunk_deg", 27.3, "lean 27°"),
        ("trunk_deg", -25.5, "layback 26°"),
        ("trunk_deg", 0.2, "upright"),
        ("shin_deg", 0.0, "shin vertical"),
        ("shin_deg", -7.6, "shin 8° short"),
        ("shin_deg", 4.0, "shin 4° past"),
        ("knee_deg", 61.5, "knee 62°"),
        ("elbow_deg", 176.2, "elbow 176°"),
        ("hip_deg", math.nan, ""),
    ],
)
def test_plain_words(name: str, value: float, text: str) -> None:
    assert angle_text(name, value) == text


def test_unknown_angle_is_refused() -> None:
    with pytest.raises(ValueError, match="trunk_deg"):
        angle_text("toe_deg", 3)


def test_halves_round_away_from_zero() -> None:
    assert [degrees(v) for v in (26.5, 27.5, -26.5, -0.3)] == ["27°", "28°", "-27°", "0°"]
