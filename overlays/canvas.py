"""The canvas overlays draw on: a list of small marks, not a picture.

A mark is a `Patch` (a small rectangle of premultiplied colour), a `Blur` (an ellipse whose content
is to be made unrecognisable) or `Strokes` (opaque lines and discs). Nothing the size of the picture
exists unless a card is drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
Point = tuple[float, float]

SAFE_SHARE = 0.9
"""Width and height of the title-safe box over the picture's (EBU R 95, SMPTE ST 2046-1)."""
TEXT_SHARE = 0.046
"""Plate letter size (em) over picture height. Noto Sans digits are 0.714 em tall, so that the
digits alone are 3.28 % of the picture height."""
TEXT_SHARE_UPRIGHT = 0.036
"""The same for upright pictures, which phones show over twice as tall: 3.6 % from the top of an l
to the foot of a p."""
BAND_ROWS = 96
"""Rows a sparse patch is cut into: small enough to hug a slanted line, large enough to be few."""


class Box(NamedTuple):
    """A rectangle in screen pixels, right and bottom exclusive."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """Pixels across."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """Pixels down."""
        return self.bottom - self.top

    @property
    def centre(self) -> Point:
        """The middle."""
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def grown(self, margin: float) -> Box:
        """The box with `margin` pixels more on every side."""
        return Box(self.left - margin, self.top - margin, self.right + margin, self.bottom + margin)


class Circle(NamedTuple):
    """A circle in screen pixels."""

    centre: Point
    radius: float


@dataclass(frozen=True, slots=True, eq=False)
class Patch:
    """A drawn rectangle.

    Attributes:
        x: Column of its left pixel; may be negative.
        y: Row of its top pixel; may be negative.
        rgba: (h, w, 4) uint8, R G B A, colour premultiplied by alpha. Never written to again.
        forms: What blending has worked out from `rgba`, kept for the next frame.
    """

    x: int
    y: int
    rgba: Pixels
    forms: dict[Any, Any] = field(default_factory=dict, repr=False)

    def __post_init__(self) -> None:
        if self.rgba.ndim != 3 or self.rgba.shape[2] != 4 or self.rgba.dtype != np.uint8:
            raise ValueError(
                f"rgba must be (h, w, 4) uint8, not {self.rgba.shape} {self.rgba.dtype}"
            )

    @property
    def box(self) -> Box:
        """Where it lies."""
        height, width = self.rgba.shape[:2]
        return Box(self.x, self.y, self.x + width, self.y + height)

    def moved(self, x: int, y: int) -> Patch:
        """The same drawing elsewhere, sharing what blending worked out."""
        return Patch(x, y, self.rgba, self.forms)

    def faded(self, opacity: float) -> Patch:
        """The same drawing at `opacity` 0 to 1."""
        if opacity >= 1:
            return self
        rgba = cv2.convertScaleAbs(self.rgba, alpha=max(0.0, opacity))
        return Patch(self.x, self.y, np.asarray(rgba, np.uint8))


@dataclass(frozen=True, slots=True)
class Blur:
    """An ellipse of the picture to make unrecognisable.

    Attributes:
        centre: Screen pixels.
        radius: (horizontal, vertical) half axes in pixels.
    """

    centre: Point
    radius: tuple[float, float]


class Line(NamedTuple):
    """An opaque line with round ends; (n, 2) screen pixels, `width` in whole pixels."""

    points: NDArray[np.float64]
    rgb: tuple[int, int, int]
    width: int


class Disc(NamedTuple):
    """An opaque filled circle, in screen pixels."""

    centre: Point
    rgb: tuple[int, int, int]
    radius: float


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """Opaque lines and discs, in the order to draw.

    They are drawn straight into the picture: a patch around a whole body would be nearly empty and
    cost three times as much.
    """

    parts: tuple[Line | Disc, ...]


Mark = Patch | Blur | Strokes


class Canvas:
    """Collects the marks of one frame.

    Attributes:
        width: Picture width in pixels.
        height: Picture height in pixels.
    """

    def __init__(self, width: int, height: int) -> None:
        if width < 16 or height < 16:
            raise ValueError(f"a picture of {width} x {height} pixels is too small to draw on")
        self.width = width
        self.height = height
        self._under: list[Mark] = []
        self._over: list[Mark] = []

    @property
    def marks(self) -> list[Mark]:
        """What was drawn, in the order to blend it: lines and pictures, then plates over them."""
        return [*self._under, *self._over]

    @property
    def unit(self) -> float:
        """Pixels per design unit: 1 at 720p, 1.5 at 1080p and at 1080 x 1920, 3 at 4K."""
        return min(self.width, self.height) / 720

    @property
    def text(self) -> int:
        """Plate letter size (em) in whole pixels."""
        upright = self.height > self.width
        return math.ceil(self.height * (TEXT_SHARE_UPRIGHT if upright else TEXT_SHARE))

    @property
    def safe(self) -> Box:
        """The title-safe box: every plate, strip and caption stays inside."""
        side = (1 - SAFE_SHARE) / 2
        return Box(
            self.width * side,
            self.height * side,
            self.width * (1 - side),
            self.height * (1 - side),
        )

    def add(self, mark: Mark, *, sparse: bool = False, over: bool = False) -> None:
        """Take a mark.

        Args:
            mark: The mark.
            sparse: The patch is mostly empty (long thin lines): keep only the parts that are drawn.
            over: It lies over everything that is not, whenever that is drawn: plates.
        """
        layer = self._over if over else self._under
        if sparse and isinstance(mark, Patch):
            layer.extend(_bands(mark))
        else:
            layer.append(mark)


class Overlay(Protocol):
    """What every overlay is: plain values and one draw method."""

    def draw(self, canvas: Canvas) -> None:
        """Add this overlay's marks to the canvas."""


def known(*points: Point) -> bool:
    """Whether every coordinate is a number."""
    return all(math.isfinite(x) and math.isfinite(y) for x, y in points)


def bounds(points: Sequence[Point]) -> Box:
    """The box around some known points."""
    xs, ys = zip(*points, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


def _bands(patch: Patch) -> list[Patch]:
    """Horizontal slices of a patch, each shrunk to what is drawn in it; empty ones dropped."""
    bands = []
    alpha = cv2.extractChannel(patch.rgba, 3)
    for top in range(0, alpha.shape[0], BAND_ROWS):
        x, y, width, height = cv2.boundingRect(alpha[top : top + BAND_ROWS])
        if width and height:
            rgba = patch.rgba[top + y : top + y + height, x : x + width]
            bands.append(Patch(patch.x + x, patch.y + top + y, rgba))
    return bands
