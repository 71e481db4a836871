"""Which moment of the clip is on the recording's screen, and where on the screen."""

from __future__ import annotations

from dataclasses import dataclass

from studio.model.arrays import Array

STATES: tuple[str, ...] = ("absent", "playing", "paused", "scrubbing")
"""Codes of `Playhead.state`, by position."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of one state; recording time, half-open; clip time at both ends.

    `rate` is clip seconds per recording second: 0 paused, negative backwards; None when absent.
    """

    start_s: float
    end_s: float
    state: str
    clip_start_s: float | None
    clip_end_s: float | None
    rate: float | None


@dataclass(frozen=True, slots=True)
class DrawnArea:
    """Where the coach has drawn: recording time, and a box x0, y0, x1, y1 in screen pixels."""

    start_s: float
    end_s: float
    box_px: tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Playhead:
    """One row for every frame of the recording.

    Attributes:
        recording_s: (N,) float64, strictly rising, pts of the frame.
        clip_s: (N,) float64, pts of the clip frame on screen (first frame = 0); NaN = absent.
        state: (N,) int8, index into `STATES`.
        placement: (N,) int32, index into `clip_to_screen`; -1 = absent.
        clip_to_screen: (M, 2, 3) float64: screen = A @ (x, y, 1), pixels, (0, 0) the top-left
            corner of the top-left pixel in both.
        seen_px: (M, 4) float64: x0, y0, x1, y1 on screen within which clip pixels are shown.
        confidence: (N,) float32, 0-1.
        second_s: (N,) float64, clip time of the best frame of another stroke; NaN = none.
        spans: The same as stretches, in order, covering the recording.
        drawn: Where and when the coach's drawing covers the picture.
        width_px: Of the recording's displayed picture.
        height_px: Of the recording's displayed picture.
        notices: Plain sentences for the coach.
        covered: What covers the picture lastingly: a camera inset, a menu.
    """

    recording_s: Array
    clip_s: Array
    state: Array
    placement: Array
    clip_to_screen: Array
    seen_px: Array
    confidence: Array
    second_s: Array
    spans: tuple[Span, ...]
    drawn: tuple[DrawnArea, ...]
    width_px: int
    height_px: int
    notices: tuple[str, ...] = ()
    covered: tuple[DrawnArea, ...] = ()
