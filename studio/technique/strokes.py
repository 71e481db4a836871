"""Body track to strokes: where the handle turns, to a fraction of a frame."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from studio.config import Corrections
from studio.errors import EvidenceError
from studio.model.arrays import Array
from studio.model.technique import BodyTrack, Stroke

LEAST_TRAVEL = 0.35
"""A handle travel counts as a stroke from this share of the usual (90th percentile) travel on."""
FIT_S = 0.2
"""Real seconds about a turning point over which the parabola is fitted."""
FASTEST_HALF_S = 0.25
"""No drive or recovery is shorter: 46 spm (facts D2 no. 26) leaves 1.3 s for both."""


def reach(body: BodyTrack) -> Array:
    """(T,) how near the handle is to the flywheel, px along the rail, measured from the ankle."""
    toward = 1 if body.facing == "right" else -1
    ankle = body.points_px["ankle"]
    # the feet do not move: their median stands in for frames in which they are out of the picture
    still = np.nanmedian(ankle[:, 0]) if np.isfinite(ankle).any() else 0.0
    at: Array = toward * (body.points_px["handle"][:, 0].astype(float) - still)
    return at


def turning_points(
    time_s: Array, position: Array, time_factor: float
) -> tuple[list[float], list[float]]:
    """Times at which the position is greatest (catches) and least (finishes), in turn.

    Args:
        time_s: (T,) clip time.
        position: (T,) px, NaN = unknown.
        time_factor: Clip seconds per real second.

    Returns:
        Catches and finishes, clip time; they alternate.
    """
    from scipy.signal import find_peaks

    good = np.isfinite(position)
    if good.sum() < 5:
        return [], []
    filled = np.interp(time_s, time_s[good], position[good])
    travel = np.percentile(filled, 95) - np.percentile(filled, 5)
    step = float(np.median(np.diff(time_s)))
    apart = max(1, round(FASTEST_HALF_S * time_factor / step))
    found = []
    for sign in (1, -1):
        padded = np.concatenate([[-np.inf], sign * filled, [-np.inf]])
        padded[[0, -1]] = (sign * filled).min() - travel
        rows, _ = find_peaks(padded, prominence=LEAST_TRAVEL * travel, distance=apart)
        found += [(int(row) - 1, sign) for row in rows]
    found = _in_turn(sorted(found), filled)
    half = FIT_S * time_factor / 2
    catches, finishes = [], []
    for row, sign in found:
        if row < 2 or row > len(filled) - 3 or not good[max(0, row - 2) : row + 3].any():
            continue  # the clip begins or ends here, or nobody saw it: not a turn that was seen
        at = _vertex(time_s, filled, row, half)
        (catches if sign > 0 else finishes).append(at)
    return catches, finishes


def _in_turn(found: list[tuple[int, int]], position: Array) -> list[tuple[int, int]]:
    """Of neighbours of the same kind keep the more extreme one."""
    kept: list[tuple[int, int]] = []
    for row, sign in found:
        if kept and kept[-1][1] == sign:
            if sign * position[row] > sign * position[kept[-1][0]]:
                kept[-1] = (row, sign)
        else:
            kept.append((row, sign))
    return kept


def _vertex(time_s: Array, position: Array, row: int, half_s: float) -> float:
    """Time of the turning point: where the speed of a cubic fitted about it is zero."""
    near = np.abs(time_s - time_s[row]) <= max(half_s, 2.01 * (time_s[1] - time_s[0]))
    t = time_s[near] - time_s[row]
    coefficients = np.polyfit(t, position[near], min(3, len(t) - 2))
    roots = np.roots(np.polyder(coefficients))
    real = roots[np.isreal(roots)].real
    real = real[np.abs(real) <= half_s]
    return float(time_s[row] + (real[np.argmin(np.abs(real))] if len(real) else 0.0))


def find_strokes(
    body: BodyTrack, time_factor: float, corrections: Corrections
) -> tuple[Stroke, ...]:
    """Strokes of the clip, catch to catch; incomplete first and last ones are marked.

    Raises:
        EvidenceError: Not one catch and finish can be seen.
    """
    catches, finishes = turning_points(body.time_s, reach(body), time_factor)
    catches, finishes = _corrected(catches, finishes, corrections)
    if not catches or not finishes:
        raise EvidenceError(
            "no stroke can be seen in the clip: the handle never goes out and comes back.",
            "Send a clip of at least three full strokes, with the hands in the picture throughout.",
        )
    strokes = []
    if finishes[0] < catches[0]:
        strokes.append(_stroke(0, None, finishes[0], catches[0], body))
    for catch, following in pairwise([*catches, None]):
        assert catch is not None
        end = following if following is not None else np.inf
        finish = next((f for f in finishes if catch < f < end), None)
        strokes.append(_stroke(len(strokes), catch, finish, following, body))
    return tuple(strokes)


def _corrected(
    catches: list[float], finishes: list[float], corrections: Corrections
) -> tuple[list[float], list[float]]:
    lists = {"catch": list(catches), "finish": list(finishes)}
    for moved in corrections.events:
        events = lists.get(moved.event, [])
        if events:
            nearest = min(range(len(events)), key=lambda i: abs(events[i] - moved.from_s))
            events[nearest] = moved.to_s
    for wrong in corrections.wrong_strokes:
        if not lists["catch"]:
            break
        catch = min(lists["catch"], key=lambda c: abs(c - wrong.catch_s))
        finish = next((f for f in sorted(lists["finish"]) if f > catch), None)
        lists["catch"].remove(catch)
        if finish is not None:
            lists["finish"].remove(finish)
    return sorted(lists["catch"]), sorted(lists["finish"])


def _stroke(
    index: int, catch: float | None, finish: float | None, following: float | None, body: BodyTrack
) -> Stroke:
    ends = [e for e in (catch, finish, following) if e is not None]
    rows = (body.time_s >= ends[0]) & (body.time_s <= ends[-1])
    seen = np.isfinite(body.points_px["handle"][rows]).all(axis=1)
    score = body.score["wrist"][rows]
    confidence = float(np.mean(score * seen)) if rows.any() else 0.0
    complete = None not in (catch, finish, following)
    return Stroke(index, catch, finish, following, {}, complete, round(confidence, 3))
