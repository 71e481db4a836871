"""What happens inside a stroke, and when: each event as a clip time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from studio.model.arrays import Array
from studio.model.technique import BodyTrack, Stroke

ONSET_SHARE = 0.2
"""A joint counts as moving once it has gone this share of its range over the stroke; a smaller
share would drown in the error of one reading (about 5 degrees, facts E1)."""


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
        "legs_down": _onset(body, drive, "knee", last=True),
        "arms_bend": _onset(body, drive, "elbow"),
        "hands_away": _onset(body, recovery, "elbow", last=True),
        "body_over": _upright(body, recovery),
        "knees_bend": _onset(body, recovery, "knee"),
        "handle_past_knees": _past_knees(body, recovery),
    }
    return replace(stroke, events_s={n: round(t, 4) for n, t in found.items() if t is not None})


def _onset(body: BodyTrack, rows: Array, joint: str, *, last: bool = False) -> float | None:
    """When a joint leaves its straightest (or, with `last`, comes back to it)."""
    angle = body.angles_deg[joint][rows].astype(float)
    if len(rows) < 5 or np.isfinite(angle).mean() < 0.8:
        return None
    straight, bent = np.nanpercentile(angle, 90), np.nanmin(angle)
    level = straight - ONSET_SHARE * (straight - bent)
    if last:
        return _crossing(body.time_s[rows], angle, lambda a: a >= level, after_min=True)
    return _crossing(body.time_s[rows], angle, lambda a: a < level, before_min=True)


def _crossing(
    time_s: Array,
    angle: Array,
    reached: Callable[[Array], Array],
    *,
    after_min: bool = False,
    before_min: bool = False,
) -> float | None:
    """First time at which `reached` holds after the most bent moment, or lastingly before it."""
    deepest = int(np.nanargmin(angle))
    hits = reached(angle)
    if after_min:
        later = np.flatnonzero(hits[deepest:])
        return float(time_s[deepest + later[0]]) if len(later) else None
    if before_min:
        row = deepest
        while row > 0 and hits[row - 1]:
            row -= 1
        return float(time_s[row]) if hits[row] and row > 0 else None
    return None


def _upright(body: BodyTrack, rows: Array) -> float | None:
    """When the trunk passes the vertical on its way forward."""
    trunk = body.angles_deg["trunk"][rows].astype(float)
    forward = np.flatnonzero(trunk > 0)
    if len(rows) < 5 or not len(forward) or not trunk[0] < 0:
        return None
    return float(body.time_s[rows[forward[0]]])


def _past_knees(body: BodyTrack, rows: Array) -> float | None:
    """When the handle passes over the knees on its way forward."""
    toward = 1 if body.facing == "right" else -1
    ahead = toward * (body.points_px["handle"][rows, 0] - body.points_px["knee"][rows, 0])
    passed = np.flatnonzero(ahead > 0)
    if len(rows) < 5 or not len(passed) or not ahead[0] < 0:
        return None
    return float(body.time_s[rows[passed[0]]])
