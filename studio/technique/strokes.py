"""Body track to strokes: where the handle turns, to a fraction of a frame."""

from __future__ import annotations

import numpy as np

from studio.config import AddedStroke, Corrections
from studio.errors import EvidenceError
from studio.model.arrays import Array
from studio.model.technique import BodyTrack, Stroke

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
LONGEST_GAP_SHARE = 0.4
"""Between two turns that belong together at most this share of the time is unseen in one piece: two
more turns hidden in it would leave less than that for each half of a stroke."""
FEET_S = 2.5
"""Clip seconds of the feet's running median: about a stroke."""
LEAST_TRUNKS = 0.6
"""Handle travel, in trunk lengths, below which nobody rows: arms alone make about 1, a whole stroke
2.5 to 3 (1.2-1.5 m over a trunk of 0.5 m, commonly taught)."""
STANDING = 1.2
"""Hips this many times further above the feet than behind them belong to somebody who stands: a
rower's are a trunk behind them for most of the stroke and less than half of one above."""
LEAST_FIT = 12
"""Frames that a straight-line fit of the handle on other points must rest on."""
MEANT_SHARE = 0.25
"""A turn this share of the drive outside of a stroke added by hand is that stroke's own: the next
one is a whole recovery away, which is hardly ever shorter than the drive."""
SEEN_SHARE = 0.7
"""Of the frames on either side of a turn that must have been seen to tell its time."""


def reach(level: BodyTrack) -> Array:
    """(T,) how far the handle is toward the flywheel from the feet, px.

    Where the hands are out of the picture the handle is told from elbow, shoulder and hip, or from
    the last two, by a straight-line fit over the frames in which all were seen; where these are
    unknown too, NaN. The feet count by their median over some seconds: they take out a camera
    that follows a boat and add no trembling of their own.
    """
    toward = 1 if level.facing == "right" else -1
    along = {name: toward * level.points_px[name].astype(float)[:, 0]
             for name in ("handle", "elbow", "shoulder", "hip", "ankle")}  # fmt: skip
    handle = along["handle"]
    for names in (("elbow", "shoulder", "hip"), ("shoulder", "hip")):
        handle = _told_by(handle, [along[name] for name in names])
    from_feet: Array = handle - _slow(along["ankle"], level.time_s)
    return from_feet


def _told_by(handle: Array, others: list[Array]) -> Array:
    """Fill (T,) gaps from other points, by a fit over that half of the stroke."""
    rest = np.stack([*others, np.ones_like(handle)], axis=1)
    seen = np.isfinite(rest).all(axis=1)
    if not (seen & np.isnan(handle)).any():
        return handle
    out = handle.copy()
    forward = rest[:, 0] > np.nanmedian(rest[:, 0])
    for half in (forward, ~forward):
        known, missing = (seen & half & k for k in (np.isfinite(handle), np.isnan(handle)))
        if known.sum() >= LEAST_FIT and missing.any():
            weights = np.linalg.lstsq(rest[known], handle[known], rcond=None)[0]
            out[missing] = rest[missing] @ weights
    return out


def _slow(position: Array, time_s: Array) -> Array:
    """Running median of (T,) over `FEET_S`; 0 where the feet are never seen."""
    from scipy.ndimage import median_filter

    good = np.isfinite(position)
    if good.sum() < 5:
        return np.zeros_like(position)
    filled = np.interp(time_s, time_s[good], position[good])
    rows = max(3, round(FEET_S / float(np.median(np.diff(time_s)))))
    slow: Array = median_filter(filled, size=rows, mode="reflect")
    return slow


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
        still = STILL_SHARE * travel
        if not _witnessed(time_s, good, row, FIT_SHARE * half, _stay(sign * filled, row, still)):
            continue
        at = _turn(time_s, sign * filled, row, half, still, leaves=sign > 0)
        if at is not None:
            (catches if sign > 0 else finishes).append(at)
    return catches, finishes


def _witnessed(time_s: Array, good: Array, row: int, half_s: float, stay: tuple[int, int]) -> bool:
    """Whether the handle was seen on both sides of a turn: about it, and until it has left."""
    off = time_s - time_s[row]
    sides = [(off >= -half_s) & (off <= 0), (off >= 0) & (off <= half_s)]
    rows = np.arange(len(good))
    sides += [(rows >= stay[0] - 1) & (rows <= row), (rows >= row) & (rows <= stay[1] + 1)]
    return bool(good[row]) and all(good[side].mean() >= SEEN_SHARE for side in sides)


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
    first, last = _stay(position, row, still)
    if time_s[last] - time_s[first] > REST_SHARE * half_s:
        return _rest_end(time_s, position, row, still, leaves=leaves)
    if first == 0 or last == len(position) - 1:
        return None
    return _vertex(time_s, position, row, FIT_SHARE * half_s)


def _stay(position: Array, row: int, still: float) -> tuple[int, int]:
    """First and last row about `row` at which the position is within `still` of it."""
    near = position >= position[row] - still
    before, after = np.flatnonzero(~near[:row]), np.flatnonzero(~near[row:])
    first = int(before[-1]) + 1 if len(before) else 0
    last = row + int(after[0]) - 1 if len(after) else len(position) - 1
    return first, last


def _rest_end(
    time_s: Array, position: Array, row: int, still: float, *, leaves: bool
) -> float | None:
    """When the handle leaves its rest, or came to it; None when the clip does not show that.

    It starts from rest with a steady pull, so the way grows with the square of the time: the
    moments at which it has gone one and four times `still` lie as far apart as the first from the
    start.
    """
    one, four = (_stay(position, row, still * k) for k in (1, 4))
    side = 1 if leaves else 0
    if four[side] in (0, len(position) - 1):
        return None
    return float(2 * time_s[one[side]] - time_s[four[side]])


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


def find_strokes(body: BodyTrack, corrections: Corrections) -> tuple[Stroke, ...]:
    """Strokes of the clip, catch to catch; incomplete first and last ones are marked.

    Args:
        body: Body track whose points are levelled.
        corrections: `events`, `wrong_strokes` and `added_strokes` are applied.

    Raises:
        EvidenceError: Not one stroke can be seen.
    """
    if _stands(body):
        raise EvidenceError(
            "nobody rows in the clip: whoever is seen stands or walks.",
            "Send a clip of the athlete rowing, from the side, feet and seat in the picture.",
        )
    position = reach(body)
    catches, finishes = turning_points(body.time_s, position)
    if not _rows(position, body):
        catches, finishes = [], []
    catches, finishes = _corrected(catches, finishes, corrections)
    if len(catches) + len(finishes) < 2:
        raise EvidenceError(
            "no stroke can be seen in the clip: the handle never goes out and comes back.",
            "Send a clip of at least three full strokes, with the hands in the picture throughout.",
        )
    drives = {(added.catch_s, added.finish_s) for added in corrections.added_strokes}
    found = _catch_to_catch(catches, finishes, body.time_s, position, drives)
    return tuple(_stroke(i, *ends, body) for i, ends in enumerate(found))


def _rows(position: Array, body: BodyTrack) -> bool:
    """Whether the handle travels as far as in rowing, and that within the body.

    A picture that sways, or somebody who is carried past, moves hands, hips and feet alike.
    """
    p = body.points_px
    trunk = np.linalg.norm(p["shoulder"] - p["hip"], axis=1)
    if not (np.isfinite(position).any() and np.isfinite(trunk).any()):
        return False
    least = LEAST_TRUNKS * float(np.nanmedian(trunk))
    apart = (np.hypot(*(p["handle"] - p[name]).T) for name in ("ankle", "hip", "shoulder"))
    return _travel(position) >= least and max(map(_travel, apart)) >= least


def _travel(values: Array) -> float:
    """From nearly the least to nearly the most of (T,); 0 where nothing is known."""
    if not np.isfinite(values).any():
        return 0.0
    return float(np.diff(np.nanpercentile(values, [5, 95]))[0])


def _stands(body: BodyTrack) -> bool:
    """Whether the hips are above the feet more than behind them, as nobody's who rows are."""
    legs = (body.points_px["ankle"] - body.points_px["hip"]).astype(float)
    if not np.isfinite(legs).any():
        return False
    across, down = np.nanmedian(np.abs(legs), axis=0)
    return bool(down > STANDING * across)


Ends = tuple[float | None, float | None, float | None]


def _catch_to_catch(
    catches: list[float],
    finishes: list[float],
    time_s: Array,
    position: Array,
    drives: set[tuple[float, float]],
) -> list[Ends]:
    """Catch, finish and next catch of every stroke; None for a turn that was not seen.

    The two turns of `drives` belong together whatever was seen between them.
    """
    events = sorted([(t, "catch") for t in catches] + [(t, "finish") for t in finishes])
    strokes: list[Ends] = []
    catch: float | None = None
    finish: float | None = None
    before: float | None = None
    for time, kind in events:
        told = (before, time) in drives
        if not told and before is not None and not _followed(before, time, time_s, position):
            strokes.append((catch, finish, None))
            catch = finish = None
        before = time
        if kind == "catch":
            if catch is not None or finish is not None:
                strokes.append((catch, finish, time if finish is not None else None))
            catch, finish = time, None
        else:
            if finish is not None:
                strokes.append((catch, finish, None))
                catch = None
            finish = time
    return [*strokes, (catch, finish, None)]


def _followed(start_s: float, end_s: float, time_s: Array, position: Array) -> bool:
    """Whether the handle was seen from one turn to the next without a gap that could hide two."""
    known = time_s[np.isfinite(position) & (time_s > start_s) & (time_s < end_s)]
    gaps = np.diff(np.concatenate([[start_s], known, [end_s]]))
    return bool(gaps.max() <= LONGEST_GAP_SHARE * (end_s - start_s))


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
    for added in corrections.added_strokes:
        for name, turn_s in (("catch", added.catch_s), ("finish", added.finish_s)):
            lists[name] = [t for t in lists[name] if not _of(added, t)] + [turn_s]
    return sorted(lists["catch"]), sorted(lists["finish"])


def _of(added: AddedStroke, turn_s: float) -> bool:
    """Whether a turn that was seen is one of a stroke added by hand, or lies within it."""
    slack = MEANT_SHARE * (added.finish_s - added.catch_s)
    return added.catch_s - slack <= turn_s <= added.finish_s + slack


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
