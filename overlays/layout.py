"""Where plates go: near what they name, clear of what matters, and still.

Each plate looks at the places round its anchor, nearest first, and takes the cheapest: distance
costs a little, lying over something to keep clear costs a lot. A plate that was placed on the
frame before keeps its offset from its anchor unless somewhere else is cheaper by a clear margin,
so plates do not jump to and fro between two places of nearly the same worth.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overlays.canvas import SAFE_SHARE, Box, Circle, Point, known

KeepOut = Box | Circle
Segment = tuple[Point, Point]
Array = NDArray[np.float64]

DIRECTIONS = 16
_TURN = 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
STEPS = np.round(np.stack([np.cos(_TURN), np.sin(_TURN)], axis=1), 12)
"""(DIRECTIONS, 2) of length 1; the straight ones exactly so."""
RINGS = (0.0, 0.6, 1.4, 2.6)
"""Extra distances tried, in plate heights."""
COVERING = 12.0
"""Cost of lying wholly over a keep-out, in plate heights of distance."""
CROSSING = 1.5
"""Cost of lying over a drawn line for the length of a plate height, in plate heights of
distance."""
TURNING = 0.8
"""Cost of lying opposite to the wished direction, in plate heights of distance."""
SLACK = 0.12
"""How far an anchor may move before its plate follows, in plate heights: trembling joints leave the
plate at rest."""
STAY = 1.0
"""How much cheaper a new place must be to leave the old one, in plate heights of distance."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A plate that wants a place.

    Attributes:
        key: Names it from frame to frame.
        size: (width, height) in pixels.
        anchor: The point it should be near, screen pixels.
        toward: The direction from the anchor it would best lie in, (x, y) of any length; (0, 0)
            for none.
        clear: Least distance from the anchor to the plate's edge, pixels.
        priority: Higher ones choose first.
    """

    key: str
    size: tuple[float, float]
    anchor: Point
    toward: Point = (0.0, 0.0)
    clear: float = 0.0
    priority: float = 0.0


@dataclass(frozen=True, slots=True)
class Placed:
    """The places given, and the anchors they hang on.

    Attributes:
        boxes: Plate places by key.
        anchors: By key; each trails the wished anchor by a little slack.
    """

    boxes: Mapping[str, Box]
    anchors: Mapping[str, Point]

    def corner(self, key: str) -> Point | None:
        """A plate's top-left, as overlays take it; None for a plate without a place."""
        box = self.boxes.get(key)
        return (box.left, box.top) if box else None


def place(
    wishes: Sequence[Wish],
    *,
    size: tuple[int, int],
    keep_out: Sequence[KeepOut] = (),
    lines: Sequence[Segment] = (),
    previous: Placed | None = None,
) -> Placed:
    """Place plates.

    Args:
        wishes: The plates of this frame; those with a NaN anchor get no place.
        size: (width, height) of the picture.
        keep_out: What must not be covered: face, handle, the coach's own drawing.
        lines: Drawn segments that plates had better not cover, such as `AngleFan.lines` gives.
        previous: What this function returned for the frame before.

    Returns:
        A box inside the title-safe area for every wish with a known anchor. When nothing is free
        the least bad place is given.
    """
    safe = _safe(size)
    boxes: dict[str, Box] = {}
    anchors: dict[str, Point] = {}
    for wish in sorted(wishes, key=lambda wish: -wish.priority):
        if not known(wish.anchor):
            continue
        ground = _Ground.of((*keep_out, *boxes.values()), lines)
        leash = _leash(wish, previous)
        kept = _kept(wish, leash, previous, safe)
        best = kept
        # Costs are never negative: a kept place this cheap cannot be beaten by the margin.
        if kept is None or (dear := _costs(wish, [kept], ground)[0]) >= STAY * wish.size[1]:
            candidates = _candidates(wish, safe)
            costs = _costs(wish, candidates, ground)
            number = int(np.argmin(costs))
            if kept is None or dear - costs[number] >= STAY * wish.size[1]:
                best, leash = candidates[number], wish.anchor
        assert best is not None
        boxes[wish.key], anchors[wish.key] = best, leash
    return Placed(boxes, anchors)


def overlap(box: Box, other: KeepOut) -> float:
    """Share 0 to 1 of the smaller shape that the other covers; circles count as squares."""
    return float(_overlaps(_rows([box]), _rows([_square(other)]))[0, 0])


@dataclass(frozen=True, slots=True)
class _Ground:
    """What is in the way: boxes (k, 4) left, top, right, bottom; segments (s, 2, 2)."""

    boxes: Array
    segments: Array

    @staticmethod
    def of(keep_out: Sequence[KeepOut], lines: Sequence[Segment]) -> _Ground:
        segments = np.array(lines, np.float64).reshape(-1, 2, 2)
        seen = segments[np.isfinite(segments).all(axis=(1, 2))]
        return _Ground(_rows([_square(other) for other in keep_out]), seen)


def _rows(boxes: Sequence[Box]) -> Array:
    return np.array(boxes, np.float64).reshape(-1, 4)


def _square(shape: KeepOut) -> Box:
    if isinstance(shape, Box):
        return shape
    (x, y), reach = shape
    return Box(x - reach, y - reach, x + reach, y + reach)


def _safe(size: tuple[int, int]) -> Box:
    side = (1 - SAFE_SHARE) / 2
    return Box(size[0] * side, size[1] * side, size[0] * (1 - side), size[1] * (1 - side))


def _candidates(wish: Wish, safe: Box) -> list[Box]:
    """Places round the anchor, ring after ring."""
    width, height = wish.size
    # How far the centre must go out for the plate's edge to clear the anchor.
    with np.errstate(divide="ignore"):
        reach = np.min(np.array([width, height]) / 2 / np.abs(STEPS), axis=1)
    out = wish.clear + np.array(RINGS)[:, None] * height + reach
    centres = np.array(wish.anchor) + STEPS * out[..., None]
    return [_inside(centre, wish.size, safe) for centre in centres.reshape(-1, 2).tolist()]


def _inside(centre: Sequence[float], size: tuple[float, float], safe: Box) -> Box:
    width, height = size
    left = min(max(centre[0] - width / 2, safe.left), max(safe.left, safe.right - width))
    top = min(max(centre[1] - height / 2, safe.top), max(safe.top, safe.bottom - height))
    return Box(left, top, left + width, top + height)


def _leash(wish: Wish, previous: Placed | None) -> Point:
    """The anchor as the plate follows it: at rest until the true one is `SLACK` away."""
    old = previous.anchors.get(wish.key) if previous is not None else None
    if old is None:
        return wish.anchor
    away, slack = math.dist(old, wish.anchor), SLACK * wish.size[1]
    share = 1 - slack / away if away > slack else 0.0
    x, y = (a + (b - a) * share for a, b in zip(old, wish.anchor, strict=True))
    return x, y


def _kept(wish: Wish, leash: Point, previous: Placed | None, safe: Box) -> Box | None:
    """Last frame's place, carried along with the leash."""
    if previous is None or wish.key not in previous.boxes:
        return None
    old, anchor = previous.boxes[wish.key], previous.anchors[wish.key]
    x, y = old.centre
    centre = (x + leash[0] - anchor[0], y + leash[1] - anchor[1])
    return _inside(centre, wish.size, safe)


def _costs(wish: Wish, candidates: Sequence[Box], ground: _Ground) -> Array:
    """What each place costs, (n,), in pixels of distance."""
    boxes, height = _rows(candidates), wish.size[1]
    away = _gaps(boxes, wish.anchor)
    cost = np.abs(away - wish.clear) + np.where(away < wish.clear / 2, 2 * height, 0.0)
    cost += COVERING * height * np.sqrt(_overlaps(boxes, ground.boxes)).sum(axis=1)
    cost += CROSSING * _covered(boxes, ground.segments).sum(axis=1)
    return np.asarray(cost + TURNING * height * _turned(wish, boxes))


def _overlaps(boxes: Array, others: Array) -> Array:
    """Shares of the smaller one covered, (n, k)."""
    low = np.maximum(boxes[:, None, :2], others[None, :, :2])
    high = np.minimum(boxes[:, None, 2:], others[None, :, 2:])
    common = np.prod(np.clip(high - low, 0, None), axis=2)
    smaller = np.minimum(_areas(boxes)[:, None], _areas(others)[None, :])
    return np.asarray(common / np.maximum(smaller, 1e-9))


def _areas(boxes: Array) -> Array:
    return np.asarray(np.prod(boxes[:, 2:] - boxes[:, :2], axis=1))


def _covered(boxes: Array, segments: Array) -> Array:
    """Pixels of each segment inside each box, (n, s).

    Liang and Barsky, "A new concept and method for line clipping", ACM TOG 3(1), 1984.
    """
    start, step = segments[:, 0], segments[:, 1] - segments[:, 0]
    # A step of 0 divides as a very small one: the segment is then inside all along, or never.
    step = np.where(np.abs(step) < 1e-9, 1e-9, step)
    low = (boxes[:, None, :2] - start) / step
    high = (boxes[:, None, 2:] - start) / step
    enter = np.minimum(low, high).max(axis=2)
    leave = np.maximum(low, high).min(axis=2)
    inside = np.clip(np.minimum(leave, 1) - np.maximum(enter, 0), 0, None)
    return np.asarray(inside * np.hypot(step[:, 0], step[:, 1]))


def _gaps(boxes: Array, point: Point) -> Array:
    """Distance from a point to each box, 0 inside, (n,)."""
    outside = np.maximum(np.maximum(boxes[:, :2] - point, point - boxes[:, 2:]), 0.0)
    return np.asarray(np.hypot(outside[:, 0], outside[:, 1]))


def _turned(wish: Wish, boxes: Array) -> Array:
    """0 where a box lies in the wished direction, 1 where it lies opposite, (n,)."""
    length = math.hypot(*wish.toward)
    if length < 1e-9:
        return np.zeros(len(boxes))
    out = (boxes[:, :2] + boxes[:, 2:]) / 2 - wish.anchor
    along = out @ np.array(wish.toward) / length
    return np.asarray((1 - along / np.maximum(np.hypot(out[:, 0], out[:, 1]), 1e-9)) / 2)
