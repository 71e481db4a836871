"""Whole-picture cards: title and end. Drawn once, then kept."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from overlays.canvas import Canvas, Patch, Pixels, Point
from overlays.ink import SHIFT
from overlays.lettering import BOLD, LEADING, REGULAR, wrap, wrap_even
from overlays.palette import INK, MUTED, PAPER, Accent, Rgb, accent_rgb
from overlays.plate import Coverage, finished, write

TITLE_SHARE = 0.092
SUBTITLE_SHARE = 0.05
SERIES_SHARE = 0.042
FADED_DEG = 40
"""The graduation is gone here, before it meets the letters."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TitleCard:
    """The opening card.

    Attributes:
        title: Large; wraps to three lines or is set smaller.
        subtitle: Below it.
        series: Small, above it.
        accent: Colour of the fan and the rule.
    """

    title: str
    subtitle: str = ""
    series: str = ""
    accent: Accent = "neutral"

    def draw(self, canvas: Canvas) -> None:
        """Add the card, as one patch the size of the picture."""
        texts = (self.series, self.title, (self.subtitle,) if self.subtitle else ())
        canvas.add(_card(canvas.width, canvas.height, texts, self.accent))


@dataclass(frozen=True, slots=True, kw_only=True)
class EndCard:
    """The closing card.

    Attributes:
        title: Large.
        lines: What to take away, one a line.
        series: Small, above the title.
        accent: Colour of the fan and the rule.
    """

    title: str
    lines: tuple[str, ...] = ()
    series: str = ""
    accent: Accent = "neutral"

    def draw(self, canvas: Canvas) -> None:
        """Add the card, as one patch the size of the picture."""
        texts = (self.series, self.title, tuple(self.lines))
        canvas.add(_card(canvas.width, canvas.height, texts, self.accent))


@lru_cache(maxsize=2)
def _card(
    width: int, height: int, texts: tuple[str, str, tuple[str, ...]], accent: Accent
) -> Patch:
    series, title, lines = texts
    # An upright picture is narrow: measure letters by what a 4:3 picture of its width would have.
    basis = min(height, width * 0.95)
    rgba = _ground(width, height, accent)
    upright = height > width
    # Letters stay left of the fan in a lying picture and above it in an upright one.
    left, room = round(width * 0.08), width * (0.84 if upright else 0.62)
    big, head = _fitted(title, round(basis * TITLE_SHARE), room)
    small = round(basis * SUBTITLE_SHARE)
    body = [part for line in lines for part in (wrap(line, small, room) or ("",))]
    tag = round(basis * SERIES_SHARE)
    block = LEADING * (big * len(head) + small * len(body)) + (tag * 2.2 if series else 0)
    y = height * (0.32 if upright else 0.48) - block / 2
    if series:
        write(rgba, series, tag, (left, y + tag), accent_rgb(accent), BOLD)
        y += tag * 2.2
    for line in head:
        write(rgba, line, big, (left, y + big), PAPER, BOLD)
        y += big * LEADING
    rule = max(2, round(basis * 0.006))
    y += basis * 0.012
    rgba[round(y) : round(y) + rule, left : left + round(basis * 0.16)] = (*accent_rgb(accent), 255)
    y += basis * 0.045
    for line in body:
        write(rgba, line, small, (left, y + small), MUTED, REGULAR)
        y += small * LEADING
    return Patch(0, 0, finished(rgba))


def _fitted(title: str, size: int, room: float) -> tuple[int, tuple[str, ...]]:
    """The largest size at which a title takes at most three lines."""
    lines = wrap(title, size, room, BOLD)
    while len(lines) > 3 and size > 12:
        size = int(size * 0.9)
        lines = wrap(title, size, room, BOLD)
    return size, wrap_even(title, size, room, BOLD)


def _ground(width: int, height: int, accent: Accent) -> Coverage:
    """Ink, with a large goniometer fan rising from the lower right corner."""
    picture = np.empty((height, width, 3), np.uint8)
    picture[:] = INK
    pivot = (width * 0.86, height * 1.04)
    radius = height * 0.98 if width >= height else width * 0.84
    tint = accent_rgb(accent)
    _wedge(picture, pivot, radius, (-90.0, -117.0), _mixed(tint, 0.16))
    scale = radius / 700
    for degree in range(0, FADED_DEG):
        inner = 0.955 if degree % 5 else 0.925
        ends = [_at(pivot, radius * share, -90.0 - degree) for share in (inner, 0.985)]
        beyond = max(0.0, 1 - (degree - 27) / (FADED_DEG - 27)) * 0.4
        _rule(picture, ends, _mixed(PAPER, 0.62 if degree <= 27 else beyond), 1.6 * scale)
    _rule(picture, [pivot, _at(pivot, radius * 1.1, -90.0)], _mixed(PAPER, 0.38), 1.8 * scale)
    _rule(picture, [pivot, _at(pivot, radius * 1.1, -117.0)], _mixed(tint, 0.75), 3.0 * scale)
    rgba = np.full((height, width, 4), 255, np.float32)
    rgba[..., :3] = picture
    return rgba


def _mixed(rgb: Rgb, share: float) -> Rgb:
    """A colour laid over ink at an opacity."""
    red, green, blue = (round(a * share + b * (1 - share)) for a, b in zip(rgb, INK, strict=True))
    return red, green, blue


def _at(centre: Point, radius: float, degrees: float) -> Point:
    angle = math.radians(degrees)
    return centre[0] + radius * math.cos(angle), centre[1] + radius * math.sin(angle)


def _wedge(
    picture: Pixels, centre: Point, radius: float, between: tuple[float, float], rgb: Rgb
) -> None:
    steps = np.linspace(*between, 48)
    corners = np.array([centre, *(_at(centre, radius, step) for step in steps)])
    cv2.fillPoly(picture, [_fixed(corners)], rgb, cv2.LINE_AA, SHIFT)


def _rule(picture: Pixels, ends: list[Point], rgb: Rgb, width: float) -> None:
    thick = max(1, round(width))
    cv2.polylines(picture, [_fixed(np.array(ends))], False, rgb, thick, cv2.LINE_AA, SHIFT)


def _fixed(points: NDArray[np.float64]) -> NDArray[np.int32]:
    return np.asarray(np.rint(points * (1 << SHIFT)), np.int32)
