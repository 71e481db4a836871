"""What happens inside a stroke, and when: each event as a clip time."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studio.model.arrays import Array
from studio.model.technique import BodyTrack, Stroke

ONSET_DEG = 10.0
"""A joint counts as bending once it is this far from its straightest of the phase: twice the
expected error of one elbow or knee (Stenum et al. 2021: 5.6 for the knee)."""
NEARLY_SHARE = 0.2
"""Legs are down, arms are straight again, when this share of the way there is left."""
SET_SHARE = 0.9
"""The body angle is set once this share of the way from the finish to the furthest lean is made."""
MARK_SHARE = 0.08
"""40 mm over a trunk of 0.5 m: marks are 30-50 mm off (Needham et al. 2021)."""
LATE = 0.2
"""The last fifth of the recovery is where reaching further counts as a lunge (common practice)."""
LUNGE_DEG = 4.5
"""Lean gained there that is more than the error of the difference of two readings."""


def rows_between(body: BodyTrack, start_s: float | None, end_s: float | None) -> Array:
    """Row numbers of the track in a closed span of clip time; none where an end is unknown."""
    if start_s is None or end_s is None:
        return np.zeros(0, dtype=int)
    found: Array = np.flatnonzero((body.time_s >= start_s) & (body.time_s <= end_s))
    return found


def with_events(stroke: Stroke, body: BodyTrack) -> Stroke:
    """The stroke with every event that can be seen; an event that cannot is left out."""
    drive = rows_between(body, stroke.catch_s, stroke.finish_s)
    recovery = rows_between(body, stroke.finish_s, stroke.next_catch_s)
    found = {
        "legs_down": _straight(body, drive, "knee"),
        "arms_connected": _connected(body, drive),
        "arms_bend": _bends(body, drive, "elbow"),
        "hands_away": _straight(body, recovery, "elbow"),
        "body_over": _upright(body, recovery),
        "body_set": _set(body, recovery),
        "knees_bend": _bends(body, recovery, "knee"),
        "handle_past_knees": _past_knees(body, recovery),
        "late_lunge": _lunges(body, stroke),
    }
    return replace(stroke, events_s={n: round(t, 4) for n, t in found.items() if t is not None})


def _curve(body: BodyTrack, rows: Array, joint: str) -> Array | None:
    """A joint's angle over a phase; None when too little of it was seen."""
    angle: Array = body.angles_deg[joint][rows].astype(float)
    return None if len(rows) < 5 or np.isfinite(angle).mean() < 0.8 else angle


def _bends(body: BodyTrack, rows: Array, joint: str) -> float | None:
    """When a joint leaves its straightest for good on its way to its most bent of the phase."""
    angle = _curve(body, rows, joint)
    if angle is None:
        return None
    level = np.nanpercentile(angle, 90) - ONSET_DEG
    row = int(np.nanargmin(angle))
    if not angle[row] < level:
        return None
    while row > 0 and angle[row - 1] < level:
        row -= 1
    return float(body.time_s[rows[row]]) if row > 0 else None


def _straight(body: BodyTrack, rows: Array, joint: str) -> float | None:
    """When a joint is nearly straight again after its most bent moment of the phase."""
    angle = _curve(body, rows, joint)
    if angle is None:
        return None
    deepest = int(np.nanargmin(angle))
    top = np.nanpercentile(angle, 90)
    level = top - NEARLY_SHARE * (top - angle[deepest])
    later = np.flatnonzero(angle[deepest:] >= level)
    return float(body.time_s[rows[deepest + later[0]]]) if len(later) else None


def _connected(body: BodyTrack, rows: Array) -> float | None:
    """When the arms first hang straight in the drive."""
    angle = _curve(body, rows, "elbow")
    if angle is None:
        return None
    hits = np.flatnonzero(angle >= np.nanpercentile(angle, 90) - ONSET_DEG)
    return float(body.time_s[rows[hits[0]]]) if len(hits) else None


def _set(body: BodyTrack, rows: Array) -> float | None:
    """When the trunk has reached the lean that it brings to the catch."""
    trunk = _curve(body, rows, "trunk")
    if trunk is None:
        return None
    start, most = trunk[np.isfinite(trunk)][0], np.nanmax(trunk)
    hits = np.flatnonzero(trunk >= start + SET_SHARE * (most - start))
    return float(body.time_s[rows[hits[0]]]) if len(hits) and most > start else None


def late_gain(body: BodyTrack, stroke: Stroke) -> tuple[float, float] | None:
    """Clip time at which the last fifth of the recovery begins, and the lean gained in it."""
    if stroke.finish_s is None or stroke.next_catch_s is None:
        return None
    late = stroke.next_catch_s - LATE * (stroke.next_catch_s - stroke.finish_s)
    trunk = body.angles_deg["trunk"].astype(float)
    before, catch = np.interp([late, stroke.next_catch_s], body.time_s, trunk)
    gain = float(catch - before)
    return (late, gain) if np.isfinite(gain) else None


def _lunges(body: BodyTrack, stroke: Stroke) -> float | None:
    """When the late part of the recovery begins, where the lean still grows in it."""
    found = late_gain(body, stroke)
    return found[0] if found and found[1] > LUNGE_DEG else None


def _upright(body: BodyTrack, rows: Array) -> float | None:
    """When the trunk passes the vertical on its way forward."""
    trunk = body.angles_deg["trunk"][rows].astype(float)
    forward = np.flatnonzero(trunk > 0)
    if len(rows) < 5 or not len(forward) or not trunk[0] < 0:
        return None
    return float(body.time_s[rows[forward[0]]])


def _past_knees(body: BodyTrack, rows: Array) -> float | None:
    """When the handle is level with the knees, to within a mark's error, on its way forward."""
    toward = 1 if body.facing == "right" else -1
    trunk = np.linalg.norm(body.points_px["shoulder"] - body.points_px["hip"], axis=1)
    ahead = toward * (body.points_px["handle"][rows, 0] - body.points_px["knee"][rows, 0])
    passed = np.flatnonzero(ahead > -MARK_SHARE * np.nanmedian(trunk))
    if len(rows) < 5 or not len(passed) or not ahead[0] < 0:
        return None
    return float(body.time_s[rows[passed[0]]])
