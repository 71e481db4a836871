"""Plates: letters on a rounded dark ground, with the accent's shape beside them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from overlays.canvas import Box, Canvas, Patch, Pixels, Point, known
from overlays.ink import LINE, Sheet
from overlays.lettering import BOLD, LEADING, REGULAR, letter, measure, wrap_even
from overlays.palette import INK, PAPER, PLATE_OPACITY, Accent, Rgb, accent_rgb
from overlays.scripts import stretches

Coverage = NDArray[np.float32]

PAD = 0.42
"""Between letters and plate edge, in letter sizes."""
RADIUS = 0.26
"""Of the corners, in letter sizes."""
BADGE = 0.94
"""Width of the accent's field, in letter sizes."""
CALLOUT_SHARE = 0.4
"""Widest callout over picture width."""
_FINE = 4
"""Shapes are drawn this many times too large and averaged down."""
_NUMBER = re.compile(r"([-\u2212+]?\d+(?:[.,]\d+)?\s?[°%]?)")
_FADES = 32
WHITE = (255.0,)


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberPlate:
    """A plate with a few words and a number, set where the caller says.

    Attributes:
        text: For example "lean 27°"; numbers are set bold.
        corner: Top-left, screen pixels.
        accent: "keep" (tick), "change" (arrow) or "neutral" (dot).
        opacity: 0 to 1.
    """

    text: str
    corner: Point
    accent: Accent = "neutral"
    opacity: float = 1.0

    def draw(self, canvas: Canvas) -> None:
        """Add the plate."""
        draw_plate(canvas, (self.text,), self.corner, self.accent, self.opacity)


@dataclass(frozen=True, slots=True, kw_only=True)
class Callout:
    """A remark on a plate, with a leader line to what it is about.

    Attributes:
        text: Wraps to 40 % of the picture's width (80 % upright).
        corner: Top-left, screen pixels.
        target: Where the leader ends; None for no leader.
        accent: "keep", "change" or "neutral".
        opacity: 0 to 1.
    """

    text: str
    corner: Point
    target: Point | None = None
    accent: Accent = "neutral"
    opacity: float = 1.0

    def draw(self, canvas: Canvas) -> None:
        """Add the leader and the plate over it."""
        lines = self._lines(canvas)
        if not lines or not known(self.corner):
            return
        width, height = plate_size(canvas, lines)
        if self.target is not None and known(self.target) and self.opacity > 0:
            box = Box(*self.corner, self.corner[0] + width, self.corner[1] + height)
            start = nearest(box.grown(-canvas.text * RADIUS), self.target)
            sheet = Sheet.around(canvas, (start, self.target), 12)
            if sheet:
                sheet.line((start, self.target), PAPER, LINE * 0.7)
                sheet.dot(self.target, 5, accent_rgb(self.accent))
                canvas.add(sheet.patch(self.opacity), sparse=True)
        draw_plate(canvas, lines, self.corner, self.accent, self.opacity)

    def size(self, canvas: Canvas) -> tuple[int, int]:
        """Width and height the plate will have."""
        return plate_size(canvas, self._lines(canvas))

    def _lines(self, canvas: Canvas) -> tuple[str, ...]:
        share = CALLOUT_SHARE * (2 if canvas.height > canvas.width else 1)
        return wrap_even(self.text, canvas.text, canvas.width * share)


def plate_size(canvas: Canvas, lines: tuple[str, ...], badge: bool = True) -> tuple[int, int]:
    """Width and height in pixels of the plate `draw_plate` makes."""
    height, width = _plate(lines, canvas.text, "neutral" if badge else None, _FADES).rgba.shape[:2]
    return width, height


def draw_plate(
    canvas: Canvas,
    lines: tuple[str, ...],
    corner: Point,
    accent: Accent | None,
    opacity: float = 1.0,
) -> None:
    """Add a plate with its top-left at `corner`; nothing for no letters, NaN or no opacity."""
    step = round(_FADES * min(1.0, opacity))
    if step > 0 and known(corner) and any(line.strip() for line in lines):
        plate = _plate(lines, canvas.text, accent, step)
        canvas.add(plate.moved(round(corner[0]), round(corner[1])), over=True)


def nearest(box: Box, point: Point) -> Point:
    """The point of a box nearest to a point."""
    return (
        min(max(point[0], box.left), box.right),
        min(max(point[1], box.top), box.bottom),
    )


@lru_cache(maxsize=128)
def _plate(lines: tuple[str, ...], size: int, accent: Accent | None, step: int) -> Patch:
    if step < _FADES:
        return _plate(lines, size, accent, _FADES).faded(step / _FADES)
    if accent is not None:
        accent_rgb(accent)
    pad, badge = round(size * PAD), round(size * BADGE) if accent else 0
    width = round(max(_reach(line, size) for line in lines)) + 2 * pad + badge
    pitch = round(size * LEADING)
    height = pitch * len(lines) + round(size * 0.3)
    rgba = ground((height, width), size * RADIUS, PLATE_OPACITY)
    if accent:
        field = np.zeros((height, width), np.float32)
        field[:, :badge] = coverage(rgba)[:, :badge] / PLATE_OPACITY
        paint(rgba, accent_rgb(accent), field)
        _stamp(rgba, _shape(accent, size), ((badge - size) // 2, (height - size) // 2), INK)
    for number, line in enumerate(lines):
        base = round(size * 0.15) + pitch * number + round(size * 1.02)
        _letters(rgba, line, size, (badge + pad, base))
    return Patch(0, 0, finished(rgba))


def _parts(line: str) -> list[tuple[str, int]]:
    """A line cut into words and bold numbers; not cut where the order of reading changes."""
    if len(stretches(line)) > 1 or any(run.direction == "rtl" for run in stretches(line)):
        return [(line, REGULAR)]
    return [
        (part, BOLD if _NUMBER.fullmatch(part) else REGULAR) for part in _NUMBER.split(line) if part
    ]


def _reach(line: str, size: int) -> float:
    return sum(measure(part, size, weight) for part, weight in _parts(line))


def _letters(rgba: Coverage, line: str, size: int, origin: tuple[int, int]) -> None:
    x = float(origin[0])
    for part, weight in _parts(line):
        write(rgba, part, size, (x, origin[1]), PAPER, weight)
        x += measure(part, size, weight)


def write(
    rgba: Coverage,
    text: str,
    size: int,
    origin: Point,
    rgb: Rgb,
    weight: int = REGULAR,
    align: Literal["left", "centre", "right"] = "left",
) -> None:
    """Write a line of letters onto a ground, its baseline through `origin`."""
    line = letter(text, size, weight)
    shift = {"left": 0.0, "centre": line.advance / 2, "right": line.advance}[align]
    at = (round(origin[0] - shift) + line.left, round(origin[1]) + line.top)
    _stamp(rgba, line.mask.astype(np.float32) / 255, at, rgb)


def ground(shape: tuple[int, int], radius: float, opacity: float, rgb: Rgb = INK) -> Coverage:
    """A rounded rectangle filling (h, w), as float premultiplied RGBA 0 to 255."""
    rgba = np.zeros((*shape, 4), np.float32)
    paint(rgba, rgb, _rounded(shape, radius) * opacity)
    return rgba


def coverage(rgba: Coverage) -> Coverage:
    """The alpha of a ground, 0 to 1."""
    return np.asarray(rgba[..., 3] / 255, np.float32)


def paint(rgba: Coverage, rgb: Rgb, cover: Coverage) -> None:
    """Lay a colour over a ground through a coverage 0 to 1 of the same (h, w), in place."""
    cover = cover[..., None]
    rgba *= 1 - cover
    rgba += np.array([*rgb, 255], np.float32) * cover


def finished(rgba: Coverage) -> Pixels:
    """A ground as the bytes a patch wants."""
    return np.rint(np.clip(rgba, 0, 255)).astype(np.uint8)


def _stamp(rgba: Coverage, mask: Coverage, at: tuple[int, int], rgb: Rgb) -> None:
    """Paint a mask with its top-left at `at`, cut at the ground's edges."""
    x, y = max(0, at[0]), max(0, at[1])
    right = min(rgba.shape[1], at[0] + mask.shape[1])
    bottom = min(rgba.shape[0], at[1] + mask.shape[0])
    if x < right and y < bottom:
        paint(
            rgba[y:bottom, x:right],
            rgb,
            mask[y - at[1] : bottom - at[1], x - at[0] : right - at[0]],
        )


def _rounded(shape: tuple[int, int], radius: float) -> Coverage:
    height, width = (side * _FINE for side in shape)
    r = round(min(radius * _FINE, height / 2, width / 2))
    fine = np.zeros((height, width), np.uint8)
    cv2.rectangle(fine, (r, 0), (width - r - 1, height - 1), WHITE, cv2.FILLED)
    cv2.rectangle(fine, (0, r), (width - 1, height - r - 1), WHITE, cv2.FILLED)
    for x in (r, width - r - 1):
        for y in (r, height - r - 1):
            cv2.circle(fine, (x, y), r, WHITE, cv2.FILLED)
    return _averaged(fine, shape)


def _shape(accent: Accent, size: int) -> Coverage:
    """The accent's sign in a square of the letter size: tick, arrow or dot."""
    side = size * _FINE
    fine = np.zeros((side, side), np.uint8)
    thick = max(1, round(side * 0.11))

    def at(*points: Point) -> NDArray[np.int32]:
        return np.asarray(np.rint(np.array(points) * side), np.int32)

    if accent == "keep":
        cv2.polylines(fine, [at((0.26, 0.53), (0.43, 0.7), (0.75, 0.33))], False, WHITE, thick)
    elif accent == "change":
        cv2.polylines(fine, [at((0.24, 0.5), (0.74, 0.5))], False, WHITE, thick)
        cv2.polylines(fine, [at((0.54, 0.29), (0.75, 0.5), (0.54, 0.71))], False, WHITE, thick)
    else:
        cv2.circle(fine, (side // 2, side // 2), round(side * 0.17), WHITE, cv2.FILLED)
    return _averaged(fine, (size, size))


def _averaged(fine: Pixels, shape: tuple[int, int]) -> Coverage:
    small = cv2.resize(fine, (shape[1], shape[0]), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32) / 255
