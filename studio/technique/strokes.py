"""Body track to strokes: where the handle turns, to a fraction of a frame."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from studio.config import Corrections
from studio.errors import EvidenceError
from studio.model.arrays import Array
from studio.model.pose import PoseTrack
from studio.model.technique import BodyTrack, Stroke
from studio.technique.body import steady

LEAST_TRAVEL = 0.35
"""The handle has turned once it has come back by this share of the clip's usual travel."""
FIT_SHARE = 0.1
"""Half the stretch about a turn in which its vertex is fitted, as a share of drive or recovery
time, whichever is shorter: 0.1 s of a drive of one second."""
STILL_SHARE = 0.02
"""A handle that stays within this share of the travel rests."""
REST_SHARE = 0.6
"""A rest of this share of a half-stroke at a turn is a pause; a smooth turn (half a cosine) stays
within `STILL_SHARE` for 0.18 of it."""
CLOSING_SHARE = 0.15
"""A gap between the clip's two ends of at most this share of the travel may be bridged by the
handle's speed; that of a recovery changes little over so short a way."""
_BODY = ("shoulder", "hip", "elbow")


def reach(body: BodyTrack, pose: PoseTrack) -> Array:
    """(T,) how far the handle is toward the flywheel, px along the picture of a still camera.

    Where the hands are out of the picture the handle is told from shoulder, hip and elbow, by a
    straight-line fit over the frames in which all were seen; where these are unknown too, NaN.
    """
    toward = 1 if body.facing == "right" else -1
    along = {name: toward * steady(body.points_px[name].astype(float), pose)[:, 0]
             for name in ("handle", *_BODY)}  # fmt: skip
    handle = along["handle"]
    rest = np.stack([along[name] for name in _BODY] + [np.ones_like(handle)], axis=1)
    known = np.isfinite(handle) & np.isfinite(rest).all(axis=1)
    missing = ~np.isfinite(handle) & np.isfinite(rest).all(axis=1)
    if missing.any() and known.sum() >= 20:
        weights = np.linalg.lstsq(rest[known], handle[known], rcond=None)[0]
        handle = np.where(missing, rest @ weights, handle)
    return handle


def turning_points(time_s: Array, position: Array) -> tuple[list[float], list[float]]:
    """Times at which the position is greatest (catches) and least (finishes), in turn.

    Args:
        time_s: (T,) clip time.
        position: (T,) px toward the flywheel, NaN = unknown.

    Returns:
        Catches and finishes, clip time; they alternate. Turns that the clip's ends or a gap hide
        are left out. Of a rest at the catch its end counts, where the drive begins; of a rest at
        the finish its beginning, where the handle arrives.
    """
    good = np.isfinite(position)
    if good.sum() < 7:
        return [], []
    filled = np.interp(time_s, time_s[good], position[good])
    travel = float(np.percentile(filled, 97) - np.percentile(filled, 3))
    found = _zigzag(filled, LEAST_TRAVEL * travel)
    times = time_s[[row for row, _ in found]]
    half = float(np.min(np.diff(times))) if len(times) > 1 else float(np.ptp(time_s)) / 4
    catches: list[float] = []
    finishes: list[float] = []
    for row, sign in found:
        if not good[max(0, row - 2) : row + 3].any():
            continue
        at = _turn(time_s, sign * filled, row, half, STILL_SHARE * travel, leaves=sign > 0)
        if at is not None:
            (catches if sign > 0 else finishes).append(at)
    return catches, finishes


def _zigzag(position: Array, back: float) -> list[tuple[int, int]]:
    """Rows of extremes, +1 greatest and -1 least in turn, each confirmed by a way back of `back`.

    The first and last row take part: what lies before and after them is unknown. The last extreme
    needs no way back but the way there.
    """
    found: list[tuple[int, int]] = []
    high = low = 0
    sign = 0
    for row in range(1, len(position)):
        high = row if position[row] > position[high] else high
        low = row if position[row] < position[low] else low
        if sign >= 0 and position[high] - position[row] >= back:
            found.append((high, 1))
            sign, low = -1, row
        elif sign <= 0 and position[row] - position[low] >= back:
            found.append((low, -1))
            sign, high = 1, row
        if sign < 0:
            high = row
        elif sign > 0:
            low = row
    last = high if sign > 0 else low
    if sign and abs(position[last] - position[found[-1][0]]) >= back:
        found.append((last, sign))
    return found


def _turn(
    time_s: Array, position: Array, row: int, half_s: float, still: float, *, leaves: bool
) -> float | None:
    """When the position is greatest; None when the clip begins or ends before that can be seen."""
    near = position >= position[row] - still
    first = row
    while first > 0 and near[first - 1]:
        first -= 1
    last = row
    while last < len(position) - 1 and near[last + 1]:
        last += 1
    rests = time_s[last] - time_s[first] > REST_SHARE * half_s
    if rests and leaves and last < len(position) - 1:
        return float(time_s[last])
    if rests and not leaves and first > 0:
        return float(time_s[first])
    if first == 0 or last == len(position) - 1:
        return None
    return _vertex(time_s, position, row, FIT_SHARE * half_s)


def _vertex(time_s: Array, position: Array, row: int, half_s: float) -> float:
    """Time of the turning point: where the speed of a cubic fitted about it is zero."""
    step = float(np.median(np.diff(time_s)))
    near = np.abs(time_s - time_s[row]) <= max(half_s, 2.5 * step)
    t = time_s[near] - time_s[row]
    speed = np.polyder(np.polyfit(t, position[near], min(3, len(t) - 2)))
    roots = np.roots(speed)
    real = roots[np.isreal(roots)].real
    real = real[
        (np.abs(real) <= max(half_s, 1.5 * step)) & (np.polyval(np.polyder(speed), real) < 0)
    ]
    return float(time_s[row] + (real[np.argmin(np.abs(real))] if len(real) else 0.0))


def closing_cycle(time_s: Array, position: Array) -> float | None:
    """Length of one stroke in a clip that shows less than one, from how its two ends meet.

    When the clip begins and ends in the same half of the stroke with one catch and one finish
    between, the end's place on the rail is looked up in the beginning, or just before it by the
    handle's speed there. Clip seconds; None where the ends do not meet.
    """
    catches, finishes = turning_points(time_s, position)
    good = np.isfinite(position)
    if len(catches) != 1 or len(finishes) != 1 or not good.all():
        return None
    first, last = sorted([catches[0], finishes[0]])
    way = 1.0 if first == catches[0] else -1.0
    travel = float(np.ptp(position))
    head = time_s <= first - 0.02 * (last - first)
    if head.sum() < 4:
        return None
    begin, end = way * position[head], way * float(position[-1])
    if end >= begin[-1] or end < begin[0] - CLOSING_SHARE * travel:
        return None
    if end >= begin[0]:
        met = float(np.interp(end, np.maximum.accumulate(begin), time_s[head]))
    else:
        few = slice(0, max(3, head.sum() // 4))
        speed = float(np.polyfit(time_s[head][few], begin[few], 1)[0])
        if speed <= 0:
            return None
        met = float(time_s[0]) - (float(begin[0]) - end) / speed
    return float(time_s[-1]) - met


def find_strokes(body: BodyTrack, pose: PoseTrack, corrections: Corrections) -> tuple[Stroke, ...]:
    """Strokes of the clip, catch to catch; incomplete first and last ones are marked.

    Raises:
        EvidenceError: Not one catch and finish can be seen.
    """
    catches, finishes = turning_points(body.time_s, reach(body, pose))
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
