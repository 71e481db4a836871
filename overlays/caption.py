"""Burned-in captions and the DRAFT mark."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from overlays.canvas import Canvas, Patch
from overlays.ink import EDGE
from overlays.lettering import LEADING, REGULAR, letter, measure
from overlays.palette import PAPER, PLATE_OPACITY
from overlays.plate import coverage, finished, ground, paint, write

CAPTION_SHARE = 0.054
"""Letter size over picture height, lying pictures: with 1.3 leading a line is 7 % of the height, as
the BBC Subtitle Guidelines ask (7 to 8 %)."""
CAPTION_SHARE_UPRIGHT = 0.034
"""The same for upright pictures: a line is 4.4 % (BBC: 3.9 to 4.5 % at 9:16)."""
DRAFT_SHARE = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """A burned-in caption: lines as given, centred at the bottom, on one ground.

    A line wider than the safe area is set smaller until it fits.

    Attributes:
        lines: One to three lines.
        lift: Raise it by this share of the picture's height, to clear a strip.
        opacity: 0 to 1.
    """

    lines: tuple[str, ...]
    lift: float = 0.0
    opacity: float = 1.0

    def draw(self, canvas: Canvas) -> None:
        """Add the caption, drawn once."""
        lines = tuple(line for line in self.lines if line.strip())
        if not lines or self.opacity <= 0:
            return
        patch = _caption(lines, canvas.width, canvas.height)
        height, width = patch.rgba.shape[:2]
        left = round((canvas.width - width) / 2)
        top = round(canvas.safe.bottom - canvas.height * self.lift) - height
        canvas.add(patch.moved(left, top).faded(self.opacity))


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftMark:
    """A word at the top right that marks an unfinished version.

    Attributes:
        text: The word.
        opacity: 0 to 1.
    """

    text: str = "DRAFT"
    opacity: float = 1.0

    def draw(self, canvas: Canvas) -> None:
        """Add the mark."""
        if not self.text.strip() or self.opacity <= 0:
            return
        patch = _stamp(self.text, round(canvas.height * DRAFT_SHARE), canvas.unit)
        left = round(canvas.safe.right) - patch.rgba.shape[1]
        canvas.add(patch.moved(left, round(canvas.safe.top)).faded(self.opacity))


@lru_cache(maxsize=64)
def _caption(lines: tuple[str, ...], across: int, down: int) -> Patch:
    size = round(down * (CAPTION_SHARE_UPRIGHT if down > across else CAPTION_SHARE))
    room = across * 0.9 - size
    widest = max(measure(line, size, REGULAR) for line in lines)
    if widest > room:
        size = int(size * room / widest)
        widest = max(measure(line, size, REGULAR) for line in lines)
    pitch, pad = round(size * LEADING), round(size * 0.45)
    shape = (pitch * len(lines) + round(size * 0.24), round(widest) + 2 * pad)
    rgba = ground(shape, size * 0.2, PLATE_OPACITY)
    for number, line in enumerate(lines):
        base = round(size * 0.12) + pitch * number + round(size * 1.02)
        write(rgba, line, size, (shape[1] / 2, base), PAPER, REGULAR, "centre")
    return Patch(0, 0, finished(rgba))


@lru_cache(maxsize=8)
def _stamp(text: str, size: int, unit: float) -> Patch:
    """Spaced letters in a thin paper frame on an ink ground."""
    spread = size * 0.16
    advance = measure(text, size, 640) + spread * (len(text) - 1)
    shape = (round(size * 1.7), round(advance + size * 1.3))
    rgba = ground(shape, size * 0.22, PLATE_OPACITY)
    inset, thick = max(2, round(EDGE * 2 * unit)), max(1, round(1.6 * unit))
    frame = np.zeros(shape, np.float32)
    for depth, value in ((inset, 1.0), (inset + thick, 0.0)):
        inner = (shape[0] - 2 * depth, shape[1] - 2 * depth)
        hole = coverage(ground(inner, max(1.0, size * 0.22 - depth), 1.0))
        part = frame[depth:-depth, depth:-depth]
        part[...] = hole if value else part * (1 - hole)
    paint(rgba, PAPER, frame)
    x, base = (shape[1] - advance) / 2, round(size * 1.21)
    # Scripts whose letters join, or are read from the right, must not be spaced letter by letter.
    pieces = tuple(text) if text.isascii() else (text,)
    if len(pieces) == 1:
        x += spread * (len(text) - 1) / 2
    for piece in pieces:
        write(rgba, piece, size, (x, base), PAPER, 640)
        x += letter(piece, size, 640).advance + spread
    return Patch(0, 0, finished(rgba))
