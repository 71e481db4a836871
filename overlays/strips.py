"""Strips that show a stroke over time: the phase strip and the recovery order."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from overlays.canvas import Canvas, Patch, Point, known
from overlays.lettering import BOLD, REGULAR, measure
from overlays.palette import (
    INK,
    MUTED,
    PAPER,
    PLATE_OPACITY,
    Accent,
    Rgb,
    accent_rgb,
)
from overlays.plate import Coverage, finished, ground, paint, write

STRIP_SHARE = 0.085
"""Height of the phase strip over picture height."""
SMALL_SHARE = 0.036
"""Letter size on strips over picture height."""
LABEL_FIT = 0.9
"""A phase's name is left out when it would fill more of its part than this."""
SHARE_STEP = 0.005
"""The drive's share of a stroke is shown in steps of 10 ms, a third of a frame: like strokes then
share one drawing."""

Span = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhaseStrip:
    """Drive and recovery to scale along the bottom, the current moment marked.

    Attributes:
        drive_s: How long the drive lasts.
        recovery_s: How long the recovery lasts.
        now_s: Since the catch, on the same clock; outside the stroke it is held at the end.
        labels: Names of the two phases.
        accent: Colour of the current phase.
        opacity: 0 to 1.
    """

    drive_s: float
    recovery_s: float
    now_s: float
    labels: tuple[str, str] = ("drive", "recovery")
    accent: Accent = "neutral"
    opacity: float = 1.0

    def draw(self, canvas: Canvas) -> None:
        """Add the strip, drawn once per stroke, and its marker."""
        whole = self.drive_s + self.recovery_s
        durations = (self.drive_s, self.recovery_s, self.now_s)
        if self.opacity <= 0 or not all(map(math.isfinite, durations)) or whole <= 0:
            return
        safe = canvas.safe
        width, height = round(safe.width), round(canvas.height * STRIP_SHARE)
        driving = self.now_s < self.drive_s
        share = round(self.drive_s / whole / SHARE_STEP) * SHARE_STEP
        strip = _phases((width, height), canvas.height, share, self.labels, (self.accent, driving))
        left, top = round(safe.left), round(safe.bottom) - height
        canvas.add(strip.moved(left, top).faded(self.opacity))
        pad, bar = _inner(height)
        marker = _marker(round(bar * 2.4), canvas.unit)
        share_now = min(1.0, max(0.0, self.now_s / whole))
        x = left + pad + (width - 2 * pad) * share_now - marker.rgba.shape[1] / 2
        y = top + height - pad - (bar + marker.rgba.shape[0]) / 2
        canvas.add(marker.moved(round(x), round(y)).faded(self.opacity))


@dataclass(frozen=True, slots=True, kw_only=True)
class RecoveryOrder:
    """When arms, body and legs move: three bars over the stretch shown.

    Attributes:
        arms: (start, end) as shares 0 to 1 of the stretch; NaN leaves the bar out.
        body: The same for the body.
        legs: The same for the legs.
        now: The current moment as a share; None for no marker.
        labels: Names of the bars.
        corner: Top-left of the panel, screen pixels; None for that of the safe area.
        accent: Colour of the bars.
        opacity: 0 to 1.
    """

    arms: Span
    body: Span
    legs: Span
    now: float | None = None
    labels: tuple[str, str, str] = ("arms", "body", "legs")
    corner: Point | None = None
    accent: Accent = "neutral"
    opacity: float = 1.0

    def draw(self, canvas: Canvas) -> None:
        """Add the panel, drawn once per stroke, and its marker."""
        if self.opacity <= 0:
            return
        panel, (first, last) = self._panel(canvas)
        corner = self.corner if self.corner is not None else (canvas.safe.left, canvas.safe.top)
        if not known(corner):
            return
        left, top = round(corner[0]), round(corner[1])
        canvas.add(panel.moved(left, top).faded(self.opacity))
        if self.now is not None and math.isfinite(self.now):
            height = panel.rgba.shape[0]
            marker = _line(height, canvas.unit)
            at = left + first + (last - first) * min(1.0, max(0.0, self.now))
            x = round(at - marker.rgba.shape[1] / 2)
            canvas.add(marker.moved(x, top).faded(self.opacity))

    def size(self, canvas: Canvas) -> tuple[int, int]:
        """Width and height of the panel, for placing it."""
        height, width = self._panel(canvas)[0].rgba.shape[:2]
        return width, height

    def _panel(self, canvas: Canvas) -> tuple[Patch, Span]:
        spans = tuple((round(a, 3), round(b, 3)) for a, b in (self.arms, self.body, self.legs))
        return _bars((canvas.width, canvas.height), spans, self.labels, self.accent)


@lru_cache(maxsize=64)
def _phases(
    size: tuple[int, int],
    picture: int,
    share: float,
    labels: tuple[str, str],
    current: tuple[Accent, bool],
) -> Patch:
    width, height = size
    letters = round(picture * SMALL_SHARE)
    rgba = ground((height, width), height * 0.18, PLATE_OPACITY)
    pad, bar = _inner(height)
    split = round(pad + (width - 2 * pad) * share)
    accent, driving = current
    gap = max(1, round(height * 0.04))
    parts = ((pad, split - gap, driving), (split + gap, width - pad, not driving))
    for (first, last, now), label in zip(parts, labels, strict=True):
        if last <= first:
            continue
        cover = np.zeros((height, width), np.float32)
        cover[height - pad - bar : height - pad, first:last] = 1
        paint(rgba, accent_rgb(accent) if now else MUTED, cover if now else cover * 0.55)
        weight = BOLD if now else REGULAR
        if measure(label, letters, weight) <= (last - first) * LABEL_FIT:
            base = height - pad - bar - round(height * 0.16)
            write(rgba, label, letters, (first, base), PAPER if now else MUTED, weight)
    return Patch(0, 0, finished(rgba))


def _inner(height: int) -> tuple[int, int]:
    """Margin and bar thickness of the phase strip, pixels."""
    return round(height * 0.19), max(3, round(height * 0.16))


@lru_cache(maxsize=64)
def _bars(
    picture: tuple[int, int], spans: tuple[Span, ...], labels: tuple[str, ...], accent: Accent
) -> tuple[Patch, Span]:
    """The panel and the columns its time runs between."""
    letters = round(picture[1] * SMALL_SHARE)
    pitch, pad = round(letters * 1.45), round(letters * 0.55)
    names = round(max(measure(label, letters) for label in labels))
    first = pad + names + pad
    length = round(min(picture[0] * 0.34, letters * 9))
    shape = (2 * pad + pitch * len(spans), first + length + pad)
    rgba = ground(shape, letters * 0.4, PLATE_OPACITY)
    track = max(3, round(letters * 0.5))
    for row, (span, label) in enumerate(zip(spans, labels, strict=True)):
        middle = pad + pitch * row + pitch // 2
        write(rgba, label, letters, (pad, middle + round(letters * 0.34)), PAPER)
        _bar(rgba, (first, first + length), middle, track // 3 or 1, MUTED, 0.35)
        start, end = (min(1.0, max(0.0, edge)) if math.isfinite(edge) else 0.0 for edge in span)
        if end > start and all(map(math.isfinite, span)):
            ends = (first + round(length * start), first + round(length * end))
            _bar(rgba, ends, middle, track, accent_rgb(accent), 1.0)
    return Patch(0, 0, finished(rgba)), (first, first + length)


def _bar(
    rgba: Coverage, ends: tuple[int, int], middle: int, thick: int, rgb: Rgb, opacity: float
) -> None:
    """A rounded bar from one column to another, centred on a row."""
    width = max(ends[1] - ends[0], thick)
    shape = ground((thick, width), thick / 2, 1.0)[..., 3] / 255 * opacity
    top = middle - thick // 2
    paint(rgba[top : top + thick, ends[0] : ends[0] + width], rgb, shape.astype(np.float32))


@lru_cache(maxsize=16)
def _marker(height: int, unit: float) -> Patch:
    """The current moment: a paper needle across the bar with an ink edge."""
    width = max(5, round(7 * unit))
    edge = max(1, round(1.6 * unit))
    rgba = ground((height + 2 * edge, width), width / 2, 1.0, INK)
    inner = ground((height, width - 2 * edge), width / 2, 1.0)[..., 3] / 255
    paint(rgba[edge:-edge, edge:-edge], PAPER, inner.astype(np.float32))
    return Patch(0, 0, finished(rgba))


@lru_cache(maxsize=16)
def _line(height: int, unit: float) -> Patch:
    """The current moment in a panel: a thin paper line, with a round head."""
    width = max(3, round(9 * unit))
    middle = width // 2
    rgba = np.zeros((height, width, 4), np.float32)
    cover = np.zeros((height, width), np.float32)
    thick = max(1, round(1.2 * unit))
    cover[:, middle - thick // 2 : middle - thick // 2 + thick] = 1
    paint(rgba, PAPER, cover)
    head = ground((width, width), width / 2, 1.0)[..., 3] / 255
    paint(rgba[:width], PAPER, head.astype(np.float32))
    return Patch(0, 0, finished(rgba))
