"""Lines on the body: limbs, shoulder to handle, and the plumb line over the ankle."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from overlays.canvas import Canvas, Point, known
from overlays.ink import LINE, Pen, Sheet
from overlays.layout import Segment, Wish, place
from overlays.palette import PAPER, Accent, accent_rgb
from overlays.plate import draw_plate, plate_size


@dataclass(frozen=True, slots=True, kw_only=True)
class LimbLines:
    """Lines along the limbs, joints marked.

    Attributes:
        chains: Each a row of joints in order, such as shoulder, hip, knee, ankle. A NaN joint
            breaks its chain; what remains is drawn.
        accent: Colour of the joints.
        opacity: 0 to 1.
    """

    chains: Sequence[Sequence[Point]]
    accent: Accent = "neutral"
    opacity: float = 1.0

    def lines(self) -> list[Segment]:
        """The lines as segments for `layout.place` to keep plates off."""
        pieces = [piece for chain in self.chains for piece in unbroken(chain)]
        return [pair for piece in pieces for pair in pairwise(piece)]

    def draw(self, canvas: Canvas) -> None:
        """Add the lines, then the joints over them."""
        pieces = [piece for chain in self.chains for piece in unbroken(chain)]
        joints = [joint for piece in pieces for joint in piece]
        if not joints or self.opacity <= 0:
            return
        pen = Pen(canvas)
        for piece in pieces:
            pen.line(piece, PAPER)
        for joint in joints:
            pen.dot(joint, 4.6, accent_rgb(self.accent))
        pen.put(self.opacity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Labelled:
    """What overlays with a plate of their own share.

    Attributes:
        text: Plate text; "" for none.
        plate: Top-left of the plate; None puts it beside what it names.
        accent: "keep", "change" or "neutral".
        opacity: 0 to 1.
    """

    text: str = ""
    plate: Point | None = None
    accent: Accent = "neutral"
    opacity: float = 1.0

    def label(self, canvas: Canvas, anchor: Point, toward: Point, line: Segment) -> None:
        """Add the plate at its corner, or else near `anchor`, `toward` a side and off `line`."""
        if not self.text:
            return
        corner = self.plate
        if corner is None:
            wish = Wish("", plate_size(canvas, (self.text,)), anchor, toward, 18 * canvas.unit)
            size = (canvas.width, canvas.height)
            corner = place([wish], size=size, lines=[line]).corner("")
        if corner is not None:
            draw_plate(canvas, (self.text,), corner, self.accent, self.opacity)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShoulderHandleLine(Labelled):
    """The line from shoulder to handle: the pull, hanging between the two.

    Attributes:
        shoulder: Screen pixels.
        handle: Screen pixels.
    """

    shoulder: Point
    handle: Point

    def draw(self, canvas: Canvas) -> None:
        """Add the line, its ends and its plate."""
        if self.opacity <= 0 or not known(self.shoulder, self.handle):
            return
        sheet = Sheet.around(canvas, (self.shoulder, self.handle), 12)
        rgb = accent_rgb(self.accent)
        if sheet is not None:
            sheet.line((self.shoulder, self.handle), rgb, LINE * 1.2)
            sheet.dot(self.shoulder, 5, PAPER)
            sheet.ring(self.handle, 7, PAPER)
            canvas.add(sheet.patch(self.opacity), sparse=True)
        (x0, y0), (x1, y1) = self.shoulder, self.handle
        middle = ((x0 + x1) / 2, (y0 + y1) / 2)
        self.label(canvas, middle, (0.0, -1.0), (self.shoulder, self.handle))


@dataclass(frozen=True, slots=True, kw_only=True)
class KneePlumb(Labelled):
    """A plumb line over the ankle, and how far the knee is from it.

    Attributes:
        ankle: Screen pixels.
        knee: Screen pixels.
    """

    ankle: Point
    knee: Point

    def draw(self, canvas: Canvas) -> None:
        """Add the plumb line with its bob, the shin, the gap at knee height and the plate."""
        if self.opacity <= 0 or not known(self.ankle, self.knee):
            return
        unit = canvas.unit
        top = (self.ankle[0], min(self.knee[1], self.ankle[1]) - 46 * unit)
        level = (self.ankle[0], self.knee[1])
        sheet = Sheet.around(canvas, (top, self.ankle, self.knee), 24)
        rgb = accent_rgb(self.accent)
        if sheet is not None:
            sheet.dashes(top, self.ankle, PAPER)
            sheet.line((self.ankle, self.knee), PAPER)
            if abs(self.knee[0] - self.ankle[0]) > 6 * unit:
                sheet.line((level, self.knee), rgb)
            sheet.solid(_bob(self.ankle, unit), PAPER)
            sheet.ring(self.knee, 6.5, rgb)
            canvas.add(sheet.patch(self.opacity), sparse=True)
        side = math.copysign(1.0, self.ankle[0] - self.knee[0])
        self.label(canvas, level, (side, -0.4), (top, self.ankle))


def unbroken(points: Sequence[Point]) -> list[list[Point]]:
    """A row of points cut where one is unknown."""
    pieces: list[list[Point]] = [[]]
    for point in points:
        if known(point):
            pieces[-1].append((float(point[0]), float(point[1])))
        elif pieces[-1]:
            pieces.append([])
    return [piece for piece in pieces if piece]


def _bob(point: Point, unit: float) -> list[Point]:
    """A plumb bob hanging with its tip at a point."""
    x, y = point
    shape = ((0, 0), (-6, -11), (-4, -18), (4, -18), (6, -11))
    return [(x + across * unit, y + down * unit) for across, down in shape]
