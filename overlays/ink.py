"""Anti-aliased lines and shapes on small sheets.

OpenCV's anti-aliasing moves a pixel toward the drawn colour by the share covered. On an empty sheet
with opaque colours that is exactly premultiplied alpha, so no second pass is needed.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from overlays.canvas import Box, Canvas, Disc, Line, Patch, Pixels, Point, Strokes, bounds
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


Parts = Iterable[Line | Disc]
Colour = tuple[int, ...]


class Pen:
    """Opaque lines and discs, taken down to be drawn straight into the picture."""

    def __init__(self, canvas: Canvas) -> None:
        self._canvas, self._unit = canvas, canvas.unit
        self._parts: list[Line | Disc] = []

    def line(self, points: Sequence[Point], rgb: Rgb) -> None:
        """A main line through the points with round ends and a dark outline."""
        way = np.asarray(points, np.float64)
        for colour, width in ((INK, LINE + 2 * EDGE), (rgb, LINE)):
            self._parts.append(Line(way, colour, max(1, round(width * self._unit))))

    def dot(self, centre: Point, radius: float, rgb: Rgb) -> None:
        """A filled circle with a dark outline; radius in design units."""
        if max(map(abs, centre)) > FAR:
            return
        self._parts.append(Disc(centre, INK, (radius + EDGE) * self._unit))
        self._parts.append(Disc(centre, rgb, radius * self._unit))

    def put(self, opacity: float) -> None:
        """Onto the canvas.

        As a patch while fading, since what lies below shows through, and in a picture so small that
        a line would be less than a chroma sample wide.
        """
        if opacity >= 1 and self._unit >= 1:
            self._canvas.add(Strokes(tuple(self._parts)))
            return
        points = [tuple(p) for part in self._parts if isinstance(part, Line) for p in part.points]
        points += [part.centre for part in self._parts if isinstance(part, Disc)]
        sheet = Sheet.around(self._canvas, points, 10)
        if sheet is not None:
            sheet.draw(self._parts)
            self._canvas.add(sheet.patch(opacity), sparse=True)


def draw_parts(
    images: Sequence[tuple[Pixels, Callable[[Rgb], Colour]]],
    parts: Parts,
    *,
    corner: Point = (0.0, 0.0),
    scale: float = 1.0,
) -> None:
    """Draw lines and discs into images of one size, in place.

    Args:
        images: (h, w) or (h, w, channels) uint8, writable, any row stride; and what an RGB colour
            is in each.
        parts: In screen pixels.
        corner: Screen position of the images' first pixel.
        scale: Pixels of the images to one of the screen: 0.5 for subsampled chroma, whose first
            sample lies between the first two pixels.
    """
    fine = scale * (1 << SHIFT)
    left, top = (fine * at + (1 - scale) / 2 * (1 << SHIFT) for at in corner)
    for part in parts:
        if isinstance(part, Disc):
            x, y = part.centre
            place = (round(x * fine - left), round(y * fine - top))
            radius = round(part.radius * fine)
            for image, colour in images:
                cv2.circle(image, place, radius, colour(part.rgb), cv2.FILLED, cv2.LINE_AA, SHIFT)
            continue
        far = np.clip(part.points, -FAR, FAR) * fine - (left, top)
        way = [np.rint(far).astype(np.int32)]
        width = max(1, round(part.width * scale))
        for image, colour in images:
            cv2.polylines(image, way, False, colour(part.rgb), width, cv2.LINE_AA, SHIFT)


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

    def draw(self, parts: Parts) -> None:
        """What a pen took down."""
        corner = (float(self._left), float(self._top))
        draw_parts([(self._rgba, lambda rgb: (*rgb, 255))], parts, corner=corner)

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
