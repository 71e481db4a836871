"""Anti-aliased lines and shapes on small sheets.

OpenCV's anti-aliasing moves a pixel toward the drawn colour by the share covered. On an empty sheet
with opaque colours that is exactly premultiplied alpha, so no second pass is needed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from overlays.canvas import Box, Canvas, Patch, Point, bounds
from overlays.palette import INK, Rgb

SHIFT = 4
"""Fractional bits of a drawn position: a sixteenth of a pixel."""
LINE = 3.0
"""Main lines, design units."""
THIN = 1.8
"""Plumb lines, design units."""
EDGE = 1.6
"""Dark outline on each side of a line, design units: lines keep 3:1 against it on any picture
(WCAG 2.2, SC 1.4.11)."""


FAR = 1e5
"""Pixels; positions are held inside, so that fixed-point numbers cannot overflow."""


class Sheet:
    """A rectangle of the picture to draw lines on, in screen coordinates.

    Attributes:
        unit: Pixels per design unit.
    """

    def __init__(self, box: Box, unit: float) -> None:
        self.unit = unit
        self._left, self._top = math.floor(box.left), math.floor(box.top)
        width, height = math.ceil(box.right) - self._left, math.ceil(box.bottom) - self._top
        self._rgba = np.zeros((height, width, 4), np.uint8)

    @staticmethod
    def around(canvas: Canvas, points: Sequence[Point], margin: float) -> Sheet | None:
        """A sheet holding known points and `margin` design units around them.

        None where all of it is outside the picture.
        """
        box = bounds(points).grown(margin * canvas.unit)
        seen = Box(
            max(0.0, box.left),
            max(0.0, box.top),
            min(float(canvas.width), box.right),
            min(float(canvas.height), box.bottom),
        )
        return Sheet(seen, canvas.unit) if seen.width > 0 and seen.height > 0 else None

    def patch(self, opacity: float = 1.0) -> Patch:
        """What was drawn."""
        return Patch(self._left, self._top, self._rgba).faded(opacity)

    def line(
        self, points: Sequence[Point], rgb: Rgb, width: float = LINE, edge: float = EDGE
    ) -> None:
        """A line through the points with round ends and a dark outline; widths in design units."""
        local = self._fixed(points)
        if edge:
            self._stroke([local], INK, width + 2 * edge)
        self._stroke([local], rgb, width)

    def lines(
        self, pieces: Sequence[Sequence[Point]], rgb: Rgb, width: float, edge: float = EDGE
    ) -> None:
        """Several lines of one kind at once; widths in design units."""
        local = [self._fixed(points) for points in pieces]
        self._stroke(local, INK, width + 2 * edge)
        self._stroke(local, rgb, width)

    def dashes(self, start: Point, end: Point, rgb: Rgb, width: float = THIN) -> None:
        """A thin dashed line with a dark outline; the first dash begins at `start`."""
        length = math.dist(start, end)
        dash, gap = 9 * self.unit, 6 * self.unit
        if length < 1:
            return
        first = np.arange(0.0, length, dash + gap)
        along = np.stack((first, np.minimum(first + dash, length)), axis=1) / length
        ends = np.asarray(start) + along[..., None] * (np.asarray(end) - start)
        pieces = list(self._fixed(ends))
        self._stroke(pieces, INK, width + 2 * EDGE)
        self._stroke(pieces, rgb, width)

    def fill(self, corners: Sequence[Point], rgb: Rgb, opacity: float) -> None:
        """A translucent polygon; draw it before the lines, since it replaces what is below it."""
        cv2.fillPoly(
            self._rgba,
            [self._fixed(corners)],
            [round(channel * opacity) for channel in (*rgb, 255)],
            cv2.LINE_AA,
            SHIFT,
        )

    def dot(self, centre: Point, radius: float, rgb: Rgb, edge: float = EDGE) -> None:
        """A filled circle with a dark outline; radius in design units."""
        if edge:
            self._disc(centre, radius + edge, INK)
        self._disc(centre, radius, rgb)

    def ring(self, centre: Point, radius: float, rgb: Rgb) -> None:
        """A small hollow pivot with a dark outline and centre; outer radius in design units."""
        self._disc(centre, radius + EDGE, INK)
        self._disc(centre, radius, rgb)
        self._disc(centre, radius * 0.45, INK)

    def solid(self, corners: Sequence[Point], rgb: Rgb, edge: float = EDGE) -> None:
        """An opaque polygon with a dark outline."""
        local = self._fixed(corners)
        if edge:
            cv2.polylines(
                self._rgba, [local], True, (*INK, 255), self._pixels(2 * edge), cv2.LINE_AA, SHIFT
            )
        cv2.fillPoly(self._rgba, [local], (*rgb, 255), cv2.LINE_AA, SHIFT)

    def trace(
        self, points: NDArray[np.float64], rgb: Rgb, width: float, strength: float, *, outline: bool
    ) -> None:
        """A translucent line through (n, 2) points; it replaces what is below it.

        Width in design units. Draw all outlines first, then all lines.
        """
        colour = [round(channel * strength) for channel in (*(INK if outline else rgb), 255)]
        cv2.polylines(
            self._rgba,
            [self._fixed(points)],
            False,
            colour,
            self._pixels(width),
            cv2.LINE_AA,
            SHIFT,
        )

    def _disc(self, centre: Point, radius: float, rgb: Rgb) -> None:
        x, y = centre[0] - self._left, centre[1] - self._top
        if abs(x) > FAR or abs(y) > FAR:
            return
        place = (round(x * (1 << SHIFT)), round(y * (1 << SHIFT)))
        size = round(radius * self.unit * (1 << SHIFT))
        cv2.circle(self._rgba, place, size, (*rgb, 255), cv2.FILLED, cv2.LINE_AA, SHIFT)

    def _stroke(self, pieces: Sequence[NDArray[np.int32]], rgb: Rgb, width: float) -> None:
        cv2.polylines(
            self._rgba, pieces, False, (*rgb, 255), self._pixels(width), cv2.LINE_AA, SHIFT
        )

    def _pixels(self, width: float) -> int:
        return max(1, round(width * self.unit))

    def _fixed(self, points: Sequence[Point] | NDArray[np.float64]) -> NDArray[np.int32]:
        """Screen points as the sheet's fixed-point positions, (..., 2)."""
        local = np.asarray(points, np.float64) - (self._left, self._top)
        local = np.minimum(np.maximum(local, -FAR), FAR)
        return np.asarray(np.rint(local * (1 << SHIFT)), np.int32)
