"""The handle's path, and where the hands drop below it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from overlays.canvas import Canvas, Point, known
from overlays.ink import EDGE, LINE, Sheet
from overlays.lines import Labelled
from overlays.palette import PAPER, Accent, accent_rgb

STEPS = 6
"""The trail fades in this many equal steps, oldest to newest."""
OLDEST = 0.22
"""Opacity of the oldest step."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HandleTrail:
    """The handle's path as a trail that fades with age.

    Attributes:
        points: (n, 2) screen pixels, oldest first; a NaN row breaks the trail.
        accent: "keep", "change" or "neutral".
        opacity: 0 to 1.
    """

    points: NDArray[np.float64]
    accent: Accent = "neutral"
    opacity: float = 1.0

    def draw(self, canvas: Canvas) -> None:
        """Add the trail, then the handle's present place."""
        points = np.asarray(self.points, np.float64).reshape(-1, 2)
        seen = points[np.isfinite(points).all(axis=1)]
        if len(seen) < 2 or self.opacity <= 0:
            return
        (left, top), (right, bottom) = seen.min(axis=0), seen.max(axis=0)
        sheet = Sheet.around(canvas, ((left, top), (right, bottom)), 12)
        if sheet is None:
            return
        rgb = accent_rgb(self.accent)
        steps = _steps(points)
        # All outlines first; oldest first, so that newer steps lie over older ones where the path
        # crosses itself. Each step replaces what is under it, its own share of opacity included.
        for outline, width in ((True, LINE * 1.3 + 2 * EDGE), (False, LINE * 1.3)):
            for strength, piece in steps:
                sheet.trace(piece, rgb, width, strength, outline=outline)
        if np.isfinite(points[-1]).all():
            sheet.ring((float(points[-1, 0]), float(points[-1, 1])), 7, PAPER)
        canvas.add(sheet.patch(self.opacity), sparse=True)


def _steps(points: NDArray[np.float64]) -> list[tuple[float, NDArray[np.float64]]]:
    """The path cut into steps of one opacity and at unknown points, oldest first."""
    cuts = np.linspace(0, len(points) - 1, min(STEPS, len(points) - 1) + 1).astype(int)
    steps: list[tuple[float, NDArray[np.float64]]] = []
    for number, (first, last) in enumerate(pairwise(cuts), 1):
        strength = OLDEST + (1 - OLDEST) * number / (len(cuts) - 1)
        part = points[first : last + 1]
        gaps = np.flatnonzero(~np.isfinite(part).all(axis=1))
        pieces = np.split(part, gaps) if len(gaps) else [part]
        known_only = (piece[np.isfinite(piece).all(axis=1)] for piece in pieces)
        steps.extend((strength, piece) for piece in known_only if len(piece))
    return steps


@dataclass(frozen=True, slots=True, kw_only=True)
class HandDrop(Labelled):
    """How far the hands have dropped from the height they should have kept.

    Attributes:
        level: A point at that height, such as where the hands were at the catch.
        hand: Where the hands are.
    """

    level: Point
    hand: Point
    accent: Accent = "change"

    def draw(self, canvas: Canvas) -> None:
        """Add the level line, the arrow down to the hand and the plate."""
        if self.opacity <= 0 or not known(self.level, self.hand):
            return
        unit = canvas.unit
        above = (self.hand[0], self.level[1])
        over = self.hand[0] + (26 * unit if self.hand[0] >= self.level[0] else -26 * unit)
        sheet = Sheet.around(canvas, (self.level, above, (over, above[1]), self.hand), 14)
        rgb = accent_rgb(self.accent)
        down = 1.0 if self.hand[1] >= self.level[1] else -1.0
        if sheet is not None:
            sheet.dashes(self.level, (over, above[1]), PAPER)
            head = 12 * unit * down
            if abs(self.hand[1] - above[1]) > abs(head):
                sheet.line((above, (self.hand[0], self.hand[1] - head)), rgb, LINE * 1.2)
                x, y = self.hand
                sheet.solid([(x, y), (x - 8 * unit, y - head), (x + 8 * unit, y - head)], rgb)
            sheet.dot(self.level, 4.6, PAPER)
            canvas.add(sheet.patch(self.opacity), sparse=True)
        self.label(canvas, self.hand, (0.0, down), (above, self.hand))
