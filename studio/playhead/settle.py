"""From what the pass noted to the clip frame of every recording frame, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studio.model.arrays import Array
from studio.playhead.library import Library
from studio.playhead.runs import Play, Run, plays_of, runs_of
from studio.playhead.search import CAP, Evidence, nats, search
from studio.playhead.watch import Rows

SOFT_SHARE = 0.2
"""Weight of the softened picture's evidence: enough where detail is lost and the sharp one is all
noise, little where the sharp one can tell neighbouring frames apart."""
LINE_NATS = 2.0
"""Nats per squared frame off the line of a play: players keep time to about half a frame."""
LONGEST_VISIT = 2
"""Pictures of a visit elsewhere that is not believed when play goes on as if it had not been."""
NEAR = 3
"""Clip frames that play moves on by at most from picture to picture."""
SURE_NATS = 3.0
"""A rival this much dearer halves the doubt: odds of 1 in 20 (the usual 5 %)."""


@dataclass(frozen=True, slots=True)
class Settled:
    """The clip frame of every recording frame.

    Attributes:
        frame: (N,) int64, -1 = absent.
        second: (N,) int64, best frame of another stroke, -1 = none.
        confidence: (N,) float32, 0-1.
        runs: Stretches of one frame.
        plays: Stretches played at a constant rate.
    """

    frame: Array
    second: Array
    confidence: Array
    runs: list[Run]
    plays: list[Play]


def settle(rows: Rows, library: Library, end_s: float) -> Settled:
    """Search the path, straighten what was played, and weigh the rivals."""
    time_s = np.array(rows.time_s)
    row_of = np.array(rows.row_of_frame)
    tick_s = float(np.median(np.diff(time_s))) if len(time_s) > 1 else 1 / 30
    evidence = _evidence(rows)
    picked, _ = _searched(rows, evidence, library, row_of, time_s)
    bridge(picked, rows.frames, evidence)
    runs = runs_of(picked[row_of], time_s, end_s)
    plays = plays_of(runs, library.time_s, tick_s)
    _straighten(picked, rows, evidence, runs, plays, library, row_of, time_s)
    frame = picked[row_of]
    runs = runs_of(frame, time_s, end_s)
    plays = plays_of(runs, library.time_s, tick_s)
    margin = _searched(rows, _one_witness(picked, evidence), library, row_of, time_s)[1]
    second, sure = _rivals(picked, rows, margin, library)
    return Settled(frame, second[row_of], sure[row_of], runs, plays)


def _evidence(rows: Rows) -> list[Array]:
    """Costs in nats of every row's candidates, from the picture as it is and softened.

    The sharp one tells neighbouring frames apart; the soft one is not misled by detail that the
    recording's scaling and codec have taken away.
    """
    made = []
    for row, cells in enumerate(rows.cells):
        if not cells:
            made.append(rows.cost[row])
            continue
        sharp = nats(rows.cost[row], rows.noise[row], cells)
        soft = nats(rows.soft_cost[row], rows.soft_noise[row], cells)
        made.append((1 - SOFT_SHARE) * sharp + SOFT_SHARE * soft)
    return made


def _searched(
    rows: Rows, evidence: list[Array], library: Library, row_of: Array, time_s: Array
) -> tuple[Array, list[Array]]:
    """(R,) int64 clip frame of every row, -1 = absent; how much dearer each candidate is."""
    picked = np.full(len(rows.place), -1, np.int64)
    margin = list(evidence)
    for stretch in _stretches(rows):
        gaps = _gaps(stretch, row_of, time_s)
        path = search(
            Evidence([rows.frames[r] for r in stretch], [evidence[r] for r in stretch], gaps),
            library.time_s,
        )
        for r, choice, rivals in zip(stretch, path.choice, path.margin, strict=True):
            picked[r] = rows.frames[r][choice]
            margin[r] = rivals
    return picked, margin


def bridge(picked: Array, frames: list[Array], evidence: list[Array]) -> None:
    """Undo, in place, visits elsewhere of a picture or two amid even play.

    No hand leaves for a thirtieth of a second and comes back to where play would be by then; a
    picture that a codec spoilt looks as if it did.

    Args:
        picked: (R,) int64 clip frame of every row, -1 = absent.
        frames: Candidates of every row.
        evidence: Their costs in nats.
    """
    for visit in range(1, LONGEST_VISIT + 1):
        for r in range(2, len(picked) - visit - 1):
            a, b = int(picked[r - 1]), int(picked[r + visit])
            around = picked[[r - 2, r - 1, r + visit, r + visit + 1]]
            steps = np.diff(around)
            even = (steps >= 0).all() and steps.max() <= NEAR and steps[1] <= NEAR * visit
            away = picked[r : r + visit]
            if around.min() < 0 or away.min() < 0 or not even or b == around[0]:
                continue
            if ((away < a) | (away > b)).all():
                for k in range(r, r + visit):
                    near = np.flatnonzero((frames[k] >= a) & (frames[k] <= b))
                    if len(near):
                        picked[k] = frames[k][near[int(np.argmin(evidence[k][near]))]]


def _one_witness(picked: Array, evidence: list[Array]) -> list[Array]:
    """The evidence with the pictures of one rest counted as one.

    A codec carries a resting picture's errors on, so that its repeats say nothing new.
    """
    edges = np.flatnonzero(np.diff(picked)) + 1
    weighed = list(evidence)
    for rest in np.split(np.arange(len(picked)), edges):
        for r in rest:
            weighed[r] = evidence[r] / len(rest)
    return weighed


def _stretches(rows: Rows) -> list[Array]:
    """Row indices of every unbroken stretch with the clip on screen."""
    there = np.array(rows.place) >= 0
    edges = np.flatnonzero(np.diff(there.astype(np.int8))) + 1
    parts = np.split(np.arange(len(there)), edges)
    return [p for p in parts if len(p) and there[p[0]]]


def _gaps(stretch: Array, row_of: Array, time_s: Array) -> Array:
    """Recording time from the frame before a row's first to that first frame."""
    first = np.searchsorted(row_of, stretch)
    before = np.maximum(first - 1, 0)
    gaps: Array = time_s[first] - time_s[before]
    return gaps


def _straighten(
    picked: Array, rows: Rows, evidence: list[Array], runs: list[Run], plays: list[Play],
    library: Library, row_of: Array, time_s: Array,
) -> None:  # fmt: skip
    """Within a play, choose again with the line through the whole play as one more witness."""
    for play in plays:
        first, last = runs[play.first + 1].first, runs[play.last].first
        inner = np.unique(row_of[first : last + 1])
        at = time_s[np.searchsorted(row_of, inner)]
        line = _best_line(play, inner, at, rows, evidence, library)
        for r, due in zip(inner, line, strict=True):
            away = rows.frames[r] - due
            picked[r] = rows.frames[r][int(np.argmin(evidence[r] + LINE_NATS * away**2))]


def _best_line(
    play: Play, inner: Array, at: Array, rows: Rows, evidence: list[Array], library: Library
) -> Array:
    """(n,) the frame due at every row of a play, on the line that all rows together like best."""
    step_s = library.step_s()
    best, best_line = np.inf, np.empty(0, np.int64)
    length = max(float(at[-1] - at[0]), step_s)
    for slope in np.linspace(-1, 1, 9) * step_s / length:
        for lift in np.linspace(-1, 1, 13) * step_s:
            clip_s = play.clip_s + lift + (play.rate + slope) * (at - play.at_s)
            due = np.searchsorted(library.time_s, clip_s + 1e-6, side="right") - 1
            due = np.clip(due, 0, len(library.time_s) - 1)
            total = sum(
                _at(rows.frames[r], evidence[r], int(j)) for r, j in zip(inner, due, strict=True)
            )
            if total < best:
                best, best_line = float(total), due
    return best_line


def _at(frames: Array, nats_of: Array, frame: int) -> float:
    k = int(np.searchsorted(frames, frame))
    return float(nats_of[k]) if k < len(frames) and frames[k] == frame else CAP


def _rivals(
    picked: Array, rows: Rows, margin: list[Array], library: Library
) -> tuple[Array, Array]:
    """The best frame of another stroke, and the confidence, of every row."""
    second = np.full(len(picked), -1, np.int64)
    sure = np.zeros(len(picked), np.float32)
    for r in np.flatnonzero(picked >= 0):
        frames = rows.frames[r]
        apart_s = library.time_s[frames] - library.time_s[picked[r]]
        if library.period_s:
            strokes = np.rint(apart_s / library.period_s)
            same_phase = np.abs(apart_s - strokes * library.period_s) < 0.25 * library.period_s
            other = np.flatnonzero((strokes != 0) & same_phase)
            if len(other):
                second[r] = frames[other[int(np.argmin(rows.cost[r][other]))]]
        far = np.abs(frames - picked[r]) > 1
        mine = float(margin[r][frames == picked[r]].min())
        lead = float(margin[r][far].min()) - mine if far.any() else CAP
        sure[r] = 1 / (1 + np.exp(1.0 - max(lead, -CAP) / SURE_NATS))
    return second, sure
