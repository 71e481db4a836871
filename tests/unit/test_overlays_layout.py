"""Placing plates: clear of what matters, inside the safe area, and still."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from overlays import AngleFan, Box, Canvas, Circle
from overlays.layout import Placed, Wish, overlap, place

SIZE = (1280, 720)
SAFE = Canvas(*SIZE).safe


def wish(key: str = "a", anchor: tuple[float, float] = (640.0, 360.0), **more: object) -> Wish:
    return Wish(key, (180.0, 50.0), anchor, **more)  # type: ignore[arg-type]


def only(placed: Placed) -> Box:
    (box,) = placed.boxes.values()
    return box


@pytest.mark.parametrize("anchor", [(0.0, 0.0), (1279.0, 719.0), (640.0, 5.0), (-300.0, 400.0)])
def test_stays_in_the_safe_area(anchor: tuple[float, float]) -> None:
    box = only(place([wish(anchor=anchor)], size=SIZE))
    assert SAFE.left <= box.left
    assert box.right <= SAFE.right
    assert SAFE.top <= box.top
    assert box.bottom <= SAFE.bottom
    assert (box.width, box.height) == pytest.approx((180, 50))


def test_takes_the_wished_side() -> None:
    for toward in ((1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)):
        box = only(place([wish(toward=toward)], size=SIZE))
        x, y = box.centre[0] - 640, box.centre[1] - 360
        assert x * toward[0] + y * toward[1] > 0.9 * math.hypot(x, y)


def test_keeps_clear_of_face_handle_and_drawing() -> None:
    keep_out = (Circle((730.0, 340.0), 70), Box(560, 380, 720, 440), Circle((560.0, 330.0), 40))
    box = only(place([wish(toward=(1.0, 0.0))], size=SIZE, keep_out=keep_out))
    assert all(overlap(box, other) == 0 for other in keep_out)


def test_plates_keep_clear_of_each_other_and_the_more_important_chooses() -> None:
    wishes = [wish("late", toward=(1.0, 0.0)), wish("first", toward=(1.0, 0.0), priority=1.0)]
    placed = place(wishes, size=SIZE)
    alone = only(place([wish("first", toward=(1.0, 0.0))], size=SIZE))
    assert placed.boxes["first"] == alone
    assert overlap(placed.boxes["late"], placed.boxes["first"]) == 0


def test_keeps_off_drawn_lines() -> None:
    line = ((660.0, 360.0), (900.0, 360.0))
    free = only(place([wish(toward=(1.0, 0.0))], size=SIZE))
    assert free.top < 360 < free.bottom
    box = only(place([wish(toward=(1.0, 0.0))], size=SIZE, lines=[line]))
    assert not box.top < 360 < box.bottom


def test_does_not_jitter() -> None:
    """Places of nearly the same worth, joints trembling: the plate rests."""
    previous, sides, places = None, set(), []
    for frame in range(60):
        anchor = (640 + 2 * math.sin(frame * 1.7), 360 + 2 * math.cos(frame * 2.3))
        face = Circle((760 + 10 * math.sin(frame * 1.1), 360 + 10 * math.cos(frame)), 60)
        previous = place([wish(anchor=anchor)], size=SIZE, keep_out=[face], previous=previous)
        box = only(previous)
        places.append(tuple(round(edge, 6) for edge in box))
        sides.add((box.centre[0] > anchor[0], box.centre[1] > anchor[1]))
    assert len(set(places)) == 1
    assert len(sides) == 1


def test_follows_a_moving_anchor_smoothly() -> None:
    previous, centres = None, []
    for frame in range(60):
        previous = place([wish(anchor=(400 + 5.0 * frame, 360))], size=SIZE, previous=previous)
        centres.append(only(previous).centre[0])
    steps = [b - a for a, b in pairwise(centres)]
    assert max(steps[3:]) == pytest.approx(5)
    assert min(steps[3:]) == pytest.approx(5)


def test_moves_when_it_must() -> None:
    before = place([wish(toward=(1.0, 0.0))], size=SIZE)
    face = Circle(only(before).centre, 60)
    after = place([wish(toward=(1.0, 0.0))], size=SIZE, keep_out=[face], previous=before)
    assert overlap(only(before), face) > 0
    assert overlap(only(after), face) == 0


def test_an_unknown_anchor_gets_no_place() -> None:
    placed = place([wish(anchor=(math.nan, 3.0))], size=SIZE)
    assert placed.boxes == {}
    assert placed.corner("a") is None


def test_a_fans_plate_leaves_the_fan_and_the_athlete_free() -> None:
    canvas = Canvas(*SIZE)
    fan = AngleFan(vertex=(620.0, 500.0), tip=(705.0, 305.0), text="lean 24°")
    box = only(place([fan.plate_wish(canvas, "lean")], size=SIZE, lines=fan.lines(canvas)))
    assert box.right < 620
    assert box.bottom < 500


def test_overlap_is_a_share_of_the_smaller() -> None:
    assert overlap(Box(0, 0, 10, 10), Box(5, 0, 100, 100)) == pytest.approx(0.5)
    assert overlap(Box(0, 0, 10, 10), Box(10, 0, 20, 10)) == 0
    assert overlap(Box(0, 0, 100, 100), Circle((50.0, 50.0), 5)) == pytest.approx(1)
