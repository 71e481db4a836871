"""What stands on the program's screen: for every frame the playhead's row and the clip moment."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from studio.model.arrays import Array
from studio.model.plan import Shot
from studio.model.playhead import Playhead

SHOWN = Fraction(2, 5)
"""A source frame is taken for a program frame from this share of a frame before its own time on:
half a frame would be the nearest, less keeps rounded time stamps from tipping over at the edge."""
STILL = 0.4
"""Up to this speed against real life a viewer can read a number beside a joint."""
BRIDGE_S = 0.5
"""Motion shorter than this between two still stretches does not part them (frame steps)."""
SHORTEST_S = 0.7
"""A still stretch shorter than this is over before a fan has opened."""


@dataclass(frozen=True, slots=True)
class Screen:
    """One row for every program frame.

    Attributes:
        clip_s: (N,) float64, clip time on screen; NaN = the clip is not on screen.
        row: (N,) int64, row of the playhead; -1 = none (a card, or no recording).
        still: (N,) bool, the clip stands or moves slowly enough to read a number beside it.
    """

    clip_s: Array
    row: Array
    still: Array


def screen(
    shots: tuple[Shot, ...], rate: Fraction, playhead: Playhead | None, factor: float
) -> Screen:
    """Follow the shots; `factor` is clip seconds per real second."""
    parts = [_follow(shot, rate, playhead) for shot in shots]
    clip_s = np.concatenate([p[0] for p in parts])
    row = np.concatenate([p[1] for p in parts])
    held = np.concatenate([np.full(len(p[0]), s.kind == "hold") for p, s in zip(parts, shots, strict=True)])  # fmt: skip  # noqa: E501
    reach = max(1, round(float(rate) / 4))
    ahead = np.concatenate([clip_s[reach:], np.full(min(reach, len(clip_s)), np.nan)])[
        : len(clip_s)
    ]
    behind = np.concatenate([np.full(reach, np.nan), clip_s])[: len(clip_s)]
    ahead, behind = (np.where(np.isnan(a), clip_s, a) for a in (ahead, behind))
    speed = np.abs(ahead - behind) * float(rate) / (2 * reach) / factor
    still = ~np.isnan(clip_s) & ((speed <= STILL) | held)
    return Screen(clip_s, row, still)


def stretches(flags: Array, rate: Fraction) -> list[tuple[float, float]]:
    """Program times of the runs of True, short gaps bridged and short runs dropped."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    runs = [(a / float(rate), b / float(rate)) for a, b in edges.reshape(-1, 2)]
    joined: list[tuple[float, float]] = []
    for start, end in runs:
        if joined and start - joined[-1][1] < BRIDGE_S:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return [(a, b) for a, b in joined if b - a >= SHORTEST_S]


def _follow(shot: Shot, rate: Fraction, playhead: Playhead | None) -> tuple[Array, Array]:
    count = round(shot.duration_s * rate)
    nothing = np.full(count, np.nan), np.full(count, -1, np.int64)
    if shot.kind == "card":
        return nothing
    steps = np.arange(count) * float(shot.speed / rate)
    source = float(shot.source_start_s) + steps
    if shot.kind == "clip" or playhead is None:
        return (source, nothing[1]) if shot.kind in ("clip", "hold") else nothing
    limit = source + float(SHOWN / rate)
    row = np.searchsorted(playhead.recording_s, limit, side="right") - 1
    row = np.maximum(row, 0)
    return playhead.clip_s[row], row
