"""The angle fan: a goniometer laid on the picture."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from overlays.canvas import Canvas, Point, known
from overlays.ink import Sheet
from overlays.layout import Segment, Wish, place
from overlays.palette import PAPER, Accent, Rgb, accent_rgb
from overlays.plate import draw_plate, plate_size

FILL = 0.34
"""Opacity of the fan: the picture stays readable through it."""
REACH = (56.0, 120.0)
"""Least and most fan radius, design units."""
LIMB_SHARE = 0.66
"""Fan radius over the limb's length, between those bounds."""
TICK_DEG = 10.0
"""Graduation along the fan's edge."""
LEAST_DEG = 0.75
"""A narrower fan is only its two lines."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleFan:
    """An angle at a joint, against the plumb line or between two limbs.

    Attributes:
        vertex: The joint, screen pixels.
        tip: The far end of the limb.
        text: What the plate says, for example "lean 27°"; "" for no plate.
        reference: Far end of the other limb; None for the plumb line.
        clockwise: Which side of the reference the fan opens to, as seen on the screen; None for the
            nearer. Give it for a nearly straight limb, where the nearer side may change with every
            frame.
        plate: Top-left of the plate; None puts it at the fan's edge.
        sweep: 0 to 1, how far the fan is open.
        accent: "keep", "change" or "neutral".
        opacity: 0 to 1.
    """

    vertex: Point
    tip: Point
    text: str
    reference: Point | None = None
    clockwise: bool | None = None
    plate: Point | None = None
    sweep: float = 1.0
    accent: Accent = "neutral"
    opacity: float = 1.0

    def draw(self, canvas: Canvas) -> None:
        """Add the fan, its lines and its plate."""
        if self.opacity <= 0 or not self._known():
            return
        limit = 12 * max(canvas.width, canvas.height)
        if max(map(abs, (*self.vertex, *self.tip))) > limit:
            return
        radius = self._radius(canvas)
        start, turn = self._span()
        ends = [self.vertex, self._on(start, radius * 1.3), self.tip]
        arc = self._arc(start, turn * min(1.0, self.sweep), radius)
        sheet = Sheet.around(canvas, [*ends, *arc], 10)
        if sheet is not None:
            self._lines(sheet, arc, start, radius, accent_rgb(self.accent))
            canvas.add(sheet.patch(self.opacity), sparse=True)
        if self.text:
            corner = self.plate or self._corner(canvas)
            if corner is not None:
                draw_plate(canvas, (self.text,), corner, self.accent, self.opacity)

    def _corner(self, canvas: Canvas) -> Point | None:
        """The plate's place at the fan's edge, off the fan's own lines."""
        size = (canvas.width, canvas.height)
        placed = place([self.plate_wish(canvas, "")], size=size, lines=self.lines(canvas))
        return placed.corner("")

    def plate_wish(self, canvas: Canvas, key: str, priority: float = 0.0) -> Wish:
        """What `layout.place` needs to find a place for this fan's plate.

        The plate is wished beside the fan's edge, on the plumb line's side: the limb's side
        belongs to the athlete. A fan between two limbs wishes it outward.
        """
        size = plate_size(canvas, (self.text,))
        if not self._known():
            return Wish(key, size, (math.nan, math.nan))
        start, turn = self._span()
        radius = self._radius(canvas)
        outward = self._on(start + turn / 2, 1.0)
        toward = (outward[0] - self.vertex[0], outward[1] - self.vertex[1])
        anchor = self._on(start + turn / 2, radius)
        if self.reference is None:
            anchor = self._on(start, radius * 0.9)
            toward = (-math.copysign(1.0, self.tip[0] - self.vertex[0]), 0.3)
        return Wish(key, size, anchor, toward, 14 * canvas.unit, priority)

    def lines(self, canvas: Canvas) -> list[Segment]:
        """What the fan draws, as segments for `layout.place` to keep plates off."""
        if not self._known():
            return []
        start, turn = self._span()
        radius = self._radius(canvas)
        other = self.reference or self._on(start, radius * 1.3)
        arc = self._arc(start, turn, radius)[::5]
        return [(self.vertex, self.tip), (self.vertex, other), *pairwise(arc)]

    def _lines(self, sheet: Sheet, arc: list[Point], start: float, radius: float, rgb: Rgb) -> None:
        if len(arc) > 1:
            sheet.fill([self.vertex, *arc], rgb, FILL)
            sheet.line(arc, rgb)
            sheet.lines(self._ticks(start, radius), PAPER, 1.4, 0.8)
        if self.reference is None:
            sheet.dashes(self._on(start, radius * 1.3), self.vertex, PAPER)
        else:
            sheet.line((self.vertex, self.reference), PAPER)
        sheet.line((self.vertex, self.tip), PAPER)
        sheet.ring(self.vertex, 6, rgb)
        sheet.dot(self.tip, 3.4, PAPER)

    def _ticks(self, start: float, radius: float) -> list[tuple[Point, Point]]:
        """Graduation inside the fan's edge, every 10 degrees from the plumb line."""
        turn = self._span()[1] * min(1.0, self.sweep)
        step = math.copysign(math.radians(TICK_DEG), turn)
        count = int(abs(turn) / math.radians(TICK_DEG))
        return [
            (self._on(start + step * n, radius * 0.9), self._on(start + step * n, radius * 0.97))
            for n in range(1, count + 1)
        ]

    def _arc(self, start: float, turn: float, radius: float) -> list[Point]:
        if abs(turn) < math.radians(LEAST_DEG):
            return []
        # A corner at least every 3 degrees: chords stay within 0.07 px of the arc at 200 px.
        steps = max(2, math.ceil(abs(turn) / math.radians(3)))
        return [self._on(start + turn * i / steps, radius) for i in range(steps + 1)]

    def _span(self) -> tuple[float, float]:
        """Direction of the reference and the turn from it to the limb, radians, y down."""
        limb = math.atan2(self.tip[1] - self.vertex[1], self.tip[0] - self.vertex[0])
        start = -math.pi / 2
        if self.reference is not None:
            across, down = (self.reference[i] - self.vertex[i] for i in (0, 1))
            start = math.atan2(down, across)
        turn = (limb - start + math.pi) % (2 * math.pi) - math.pi
        # A little past the wished side (joints wobble about straight and about closed) stays near
        # 0.
        if self.clockwise and turn < -math.pi / 2:
            turn += 2 * math.pi
        elif self.clockwise is False and turn > math.pi / 2:
            turn -= 2 * math.pi
        return start, turn

    def _on(self, angle: float, radius: float) -> Point:
        return (
            self.vertex[0] + radius * math.cos(angle),
            self.vertex[1] + radius * math.sin(angle),
        )

    def _radius(self, canvas: Canvas) -> float:
        least, most = (reach * canvas.unit for reach in REACH)
        limb = math.dist(self.vertex, self.tip)
        if self.reference is not None:
            limb = min(limb, math.dist(self.vertex, self.reference))
        return min(most, max(least, limb * LIMB_SHARE))

    def _known(self) -> bool:
        points = (self.vertex, self.tip) + ((self.reference,) if self.reference else ())
        return known(*points) and self.vertex != self.tip
