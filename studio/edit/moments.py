"""Where the recording rests on a catch or finish, and where it plays straight through one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studio.model.arrays import Array
from studio.model.playhead import STATES, Playhead, Span
from studio.model.technique import Technique

REST_S = 0.8
"""A shorter stop is a slip of the hand, not a rest; recording time."""
NEAR_S = 0.1
"""Real seconds around a turning point within which the body has hardly moved: at 30 strokes a
minute a joint swinging 1 m in a 2 s cycle is within 5 cm of its turning point (cosine motion)."""
RUN_ON_S = 0.5
"""Play must go on this long past a moment, recording time, to count as playing straight through."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A catch or finish of one stroke; clip time."""

    phase: str
    stroke: int
    clip_s: float


@dataclass(frozen=True, slots=True)
class Rest:
    """The coach rests on (or right beside) a moment; `clip_s` is the clip frame on screen."""

    moment: Moment
    clip_s: float
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Passing:
    """The clip plays through a moment at `at_s`, recording time, within `span`."""

    moment: Moment
    at_s: float
    span: Span


def moments(technique: Technique | None) -> tuple[Moment, ...]:
    """Every catch and finish that the clip shows, in clip order."""
    if technique is None:
        return ()
    found = [
        Moment(phase, stroke.index, time)
        for stroke in technique.strokes
        for phase, time in (("catch", stroke.catch_s), ("finish", stroke.finish_s))
        if time is not None
    ]
    return tuple(sorted(found, key=lambda m: m.clip_s))


def nearest(all_moments: tuple[Moment, ...], clip_s: float, within_s: float) -> Moment | None:
    """The moment nearest to a clip time, if any lies within `within_s` (clip time)."""
    close = [m for m in all_moments if abs(m.clip_s - clip_s) <= within_s]
    return min(close, key=lambda m: abs(m.clip_s - clip_s), default=None)


def rests(playhead: Playhead, all_moments: tuple[Moment, ...], factor: float) -> tuple[Rest, ...]:
    """Every rest on a moment; `factor` is clip seconds per real second."""
    found = []
    for span in _joined(_stops(playhead)):
        if span.clip_start_s is None or span.end_s - span.start_s < REST_S:
            continue
        moment = nearest(all_moments, span.clip_start_s, NEAR_S * factor)
        if moment is not None:
            found.append(Rest(moment, span.clip_start_s, span.start_s, span.end_s))
    return tuple(found)


def passings(playhead: Playhead, all_moments: tuple[Moment, ...]) -> tuple[Passing, ...]:
    """Every moment that the clip plays straight through, in recording order."""
    found = []
    playing = STATES.index("playing")
    for span in playhead.spans:
        if span.state != "playing" or span.clip_start_s is None or (span.rate or 0) <= 0:
            continue
        first, last = np.searchsorted(playhead.recording_s, (span.start_s, span.end_s))
        rows = np.arange(first, last)
        rows = rows[playhead.state[rows] == playing]
        for moment in all_moments:
            at = _crossing(playhead, rows, moment.clip_s)
            if at is not None and span.end_s - at >= RUN_ON_S:
                found.append(Passing(moment, at, span))
    return tuple(sorted(found, key=lambda p: p.at_s))


def _crossing(playhead: Playhead, rows: Array, clip_s: float) -> float | None:
    """Recording time of the first frame that shows `clip_s`, having shown an earlier moment."""
    shown = playhead.clip_s[rows]
    late = np.flatnonzero(shown >= clip_s - 1e-3)
    if not len(late) or late[0] == 0:
        return None
    return float(playhead.recording_s[rows[late[0]]])


def _stops(playhead: Playhead) -> list[Span]:
    """Pauses, parted wherever the coach stepped to another frame."""
    found = []
    for span in playhead.spans:
        if span.state != "paused":
            continue
        first, last = np.searchsorted(playhead.recording_s, (span.start_s, span.end_s))
        shown = playhead.clip_s[first:last]
        steps = first + 1 + np.flatnonzero(np.abs(np.diff(shown)) > 1e-3)
        rows = [int(first), *(int(s) for s in steps)]
        starts = [span.start_s, *(float(playhead.recording_s[s]) for s in steps)]
        for row, start, end in zip(rows, starts, [*starts[1:], span.end_s], strict=True):
            if row < last and not np.isnan(playhead.clip_s[row]):
                clip_s = float(playhead.clip_s[row])
                found.append(Span(start, end, "paused", clip_s, clip_s, 0.0))
    return found


def _joined(paused: list[Span]) -> list[Span]:
    """Pauses on the same clip frame with next to nothing between them, made one."""
    joined: list[Span] = []
    for span in paused:
        before = joined[-1] if joined else None
        if (
            before is not None
            and before.clip_start_s is not None
            and span.clip_start_s is not None
            and span.start_s - before.end_s <= 0.3
            and abs(before.clip_start_s - span.clip_start_s) < 0.02
        ):
            joined[-1] = Span(before.start_s, span.end_s, "paused", before.clip_start_s,
                              span.clip_end_s, 0.0)  # fmt: skip
        else:
            joined.append(span)
    return joined
