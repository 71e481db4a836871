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

from overlays.canvas import SAFE_SHARE, Box, Circle, Point, known

KeepOut = Box | Circle
Segment = tuple[Point, Point]

DIRECTIONS = 16
RINGS = (0.0, 0.6, 1.4, 2.6)
"""Extra distances tried, in plate heights."""
COVERING = 12.0
"""Cost of lying wholly over a keep-out, in plate heights of distance."""
CROSSING = 1.5
"""Cost of lying over a drawn line for the length of a plate height, in plate heights of
distance."""
TURNING = 0.8
"""Cost of lying opposite to the wished direction, in plate heights of distance."""
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
    """The places given, and the anchors they were given for.

    Attributes:
        boxes: Plate places by key.
        anchors: Anchors by key.
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
        blocked = ((*keep_out, *boxes.values()), lines)
        # The last choice among equals must not depend on rounding: candidates come nearest first.
        best_cost, best = min(
            ((_cost(wish, box, blocked), box) for box in _candidates(wish, safe)),
            key=lambda pair: pair[0],
        )
        kept = _kept(wish, previous, safe)
        if kept is not None and _cost(wish, kept, blocked) - best_cost < STAY * wish.size[1]:
            best = kept
        boxes[wish.key], anchors[wish.key] = best, wish.anchor
    return Placed(boxes, anchors)


def overlap(box: Box, other: KeepOut) -> float:
    """Share 0 to 1 of the smaller of two shapes that the other one covers.

    A circle counts as the square round it with a seventh of its size cut from every corner's side.
    """
    if isinstance(other, Circle):
        other = _square(other)
    across = min(box.right, other.right) - max(box.left, other.left)
    down = min(box.bottom, other.bottom) - max(box.top, other.top)
    if across <= 0 or down <= 0:
        return 0.0
    smaller = min(box.width * box.height, other.width * other.height)
    return across * down / smaller if smaller > 0 else 0.0


def _square(circle: Circle) -> Box:
    (x, y), reach = circle.centre, circle.radius
    return Box(x - reach, y - reach, x + reach, y + reach)


def _safe(size: tuple[int, int]) -> Box:
    side = (1 - SAFE_SHARE) / 2
    return Box(size[0] * side, size[1] * side, size[0] * (1 - side), size[1] * (1 - side))


def _candidates(wish: Wish, safe: Box) -> list[Box]:
    width, height = wish.size
    found = []
    for ring in RINGS:
        for number in range(DIRECTIONS):
            angle = 2 * math.pi * number / DIRECTIONS
            step = (math.cos(angle), math.sin(angle))
            # How far the centre must go out for the plate's edge to clear the anchor.
            out = wish.clear + ring * height + _reach(step, width / 2, height / 2)
            centre = (wish.anchor[0] + step[0] * out, wish.anchor[1] + step[1] * out)
            found.append(_inside(centre, (width, height), safe))
    return found


def _reach(step: Point, half_width: float, half_height: float) -> float:
    across = half_width / abs(step[0]) if abs(step[0]) > 1e-9 else math.inf
    down = half_height / abs(step[1]) if abs(step[1]) > 1e-9 else math.inf
    return min(across, down)


def _inside(centre: Point, size: tuple[float, float], safe: Box) -> Box:
    width, height = size
    left = min(max(centre[0] - width / 2, safe.left), max(safe.left, safe.right - width))
    top = min(max(centre[1] - height / 2, safe.top), max(safe.top, safe.bottom - height))
    return Box(left, top, left + width, top + height)


def _kept(wish: Wish, previous: Placed | None, safe: Box) -> Box | None:
    """Last frame's place, carried along with the anchor."""
    if previous is None or wish.key not in previous.boxes:
        return None
    old, anchor = previous.boxes[wish.key], previous.anchors[wish.key]
    x, y = old.centre
    centre = (x + wish.anchor[0] - anchor[0], y + wish.anchor[1] - anchor[1])
    return _inside(centre, wish.size, safe)


def _cost(wish: Wish, box: Box, blocked: tuple[Sequence[KeepOut], Sequence[Segment]]) -> float:
    """In pixels of distance."""
    height = wish.size[1]
    keep_out, lines = blocked
    away = _gap(box, wish.anchor)
    cost = abs(away - wish.clear) + (2 * height if away < wish.clear / 2 else 0.0)
    cost += sum(COVERING * height * math.sqrt(overlap(box, other)) for other in keep_out)
    cost += CROSSING * sum(_covered(box, line) for line in lines)
    return cost + TURNING * height * _turned(wish, box)


def _covered(box: Box, line: Segment) -> float:
    """How many pixels of a segment lie in a box (Liang and Barsky, ACM TOG 3(1), 1984)."""
    (x, y), (end_x, end_y) = line
    first, last = 0.0, 1.0
    for start, step, low, high in (
        (x, end_x - x, box.left, box.right),
        (y, end_y - y, box.top, box.bottom),
    ):
        if abs(step) < 1e-9:
            if not low <= start <= high:
                return 0.0
            continue
        enter, leave = sorted(((low - start) / step, (high - start) / step))
        first, last = max(first, enter), min(last, leave)
    return max(0.0, last - first) * math.dist(*line)


def _gap(box: Box, point: Point) -> float:
    """Distance from a point to a box, 0 inside."""
    across = max(box.left - point[0], 0.0, point[0] - box.right)
    down = max(box.top - point[1], 0.0, point[1] - box.bottom)
    return math.hypot(across, down)


def _turned(wish: Wish, box: Box) -> float:
    """0 where the box lies in the wished direction, 1 where it lies opposite."""
    length = math.hypot(*wish.toward)
    x, y = box.centre[0] - wish.anchor[0], box.centre[1] - wish.anchor[1]
    out = math.hypot(x, y)
    if length < 1e-9 or out < 1e-9:
        return 0.0
    return (1 - (x * wish.toward[0] + y * wish.toward[1]) / (length * out)) / 2
