"""Pose track to body track: the near side, smoothed, with honest gaps."""

from __future__ import annotations

import numpy as np

from studio.errors import EvidenceError
from studio.model.arrays import Array
from studio.model.pose import LANDMARKS, PoseTrack
from studio.model.technique import POINTS, BodyTrack
from studio.technique.angles import body_angles

LEAST_SCORE = 0.3
"""Below this a landmark is a guess about something hidden or out of the picture."""
LONGEST_GAP_S = 0.2
"""Real seconds over which a point may be carried by its neighbours in time."""
SMOOTHING_S = 0.2
"""Real seconds of the cubic fit. Human movement in rowing lies below 6 Hz (facts E3); a cubic
Savitzky-Golay fit of this length passes 6 Hz at -3 dB (Schafer 2011, IEEE SPM 28(4):111)."""
_NAMES = {"toe": "foot_index"}
_FACE = ("nose", "left_eye", "right_eye", "left_ear", "right_ear", "mouth_left", "mouth_right")


def body_track(pose: PoseTrack, time_factor: float = 1.0) -> BodyTrack:
    """The near side of the athlete.

    Args:
        pose: As the backend saw it.
        time_factor: Clip seconds per real second.

    Raises:
        EvidenceError: The legs are never in the picture, so that the facing cannot be told.
    """
    toward = facing(pose)
    side = "right" if toward > 0 else "left"  # who faces right shows the camera the right side
    step = float(np.median(np.diff(pose.time_s))) if len(pose.time_s) > 1 else 1 / 30
    rows = max(1, round(LONGEST_GAP_S * time_factor / step))
    window = max(5, 2 * round(SMOOTHING_S * time_factor / step / 2) + 1)
    points: dict[str, Array] = {}
    scores: dict[str, Array] = {}
    for name in POINTS:
        marks = [f"{side}_{m}" for m in _marks(name)]
        columns = [LANDMARKS.index(m) for m in marks]
        score = pose.score[:, columns].min(axis=1)
        raw = np.nanmean(pose.xy_px[:, columns].astype(float), axis=1)
        raw[~inside(raw, pose) | (score < LEAST_SCORE)] = np.nan
        points[name] = smooth(bridge(raw, rows), window)
        scores[name] = score
    points["handle"] = _grip(points["wrist"], points["handle"])
    return BodyTrack(
        time_s=pose.time_s,
        points_px={name: p.astype(np.float32) for name, p in points.items()},
        angles_deg={n: a.astype(np.float32) for n, a in body_angles(points, toward).items()},
        score=scores,
        face_px=_face(pose, rows),
        facing="right" if toward > 0 else "left",
        source=pose.source,
    )


def _marks(name: str) -> tuple[str, ...]:
    return ("index", "pinky") if name == "handle" else (_NAMES.get(name, name),)


def _grip(wrist: Array, knuckles: Array) -> Array:
    """The handle lies in the fingers, at the knuckles; the wrist stands in where they are hidden."""
    return np.where(np.isnan(knuckles), wrist, knuckles)


def facing(pose: PoseTrack) -> int:
    """+1 when the athlete faces right, -1 left: the feet lie toward the flywheel from the hips."""
    hips = _middle(pose, "hip")
    feet = _middle(pose, "ankle")
    lead = np.nanmedian(feet[:, 0] - hips[:, 0]) if np.isfinite(feet - hips).any() else np.nan
    if not np.isfinite(lead) or lead == 0:
        raise EvidenceError(
            "the clip never shows the hips and the feet together.",
            "Film the whole athlete from the side, feet and seat included.",
        )
    return 1 if lead > 0 else -1


def _middle(pose: PoseTrack, name: str) -> Array:
    pair = [LANDMARKS.index(f"{side}_{name}") for side in ("left", "right")]
    middle: Array = pose.xy_px[:, pair].mean(axis=1)
    return middle


def inside(xy: Array, pose: PoseTrack) -> Array:
    """(T,) bool: which of (T, 2) points lie in the picture; NaN does not."""
    with np.errstate(invalid="ignore"):
        within: Array = ((xy >= 0) & (xy <= [pose.width_px, pose.height_px])).all(axis=1)
    return within


def bridge(xy: Array, rows: int) -> Array:
    """Fill gaps of at most `rows` rows in (T, 2) by straight lines; longer ones stay NaN."""
    good = np.isfinite(xy).all(axis=1)
    if good.sum() < 2:
        return np.full_like(xy, np.nan)
    at = np.arange(len(xy))
    filled = np.stack([np.interp(at, at[good], xy[good, k]) for k in (0, 1)], axis=1)
    before = np.maximum.accumulate(np.where(good, at, -len(xy)))
    after = np.minimum.accumulate(np.where(good, at, 2 * len(xy))[::-1])[::-1]
    keep = good | ((after - before - 1 <= rows) & (before >= 0) & (after < len(xy)))
    filled[~keep] = np.nan
    return filled


def smooth(xy: Array, window: int) -> Array:
    """Zero-lag cubic smoothing of (T, 2) within each stretch without NaN; short ones stay."""
    from scipy.signal import savgol_filter

    out = xy.copy()
    for rows in stretches(np.isfinite(xy).all(axis=1)):
        if rows.stop - rows.start >= window:
            out[rows] = savgol_filter(xy[rows], window, 3, axis=0)
    return out


def stretches(good: Array) -> list[slice]:
    """Runs of True in (T,) bool, as slices."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], good.astype(np.int8), [0]])))
    return [slice(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _face(pose: PoseTrack, rows: int) -> Array:
    """(T, 3): a circle that holds the face, generous: twice its landmarks' extent."""
    columns = [LANDMARKS.index(name) for name in _FACE]
    marks = pose.xy_px[:, columns].astype(float)
    centre = marks.mean(axis=1)
    reach = np.linalg.norm(marks - centre[:, None], axis=-1).max(axis=1) * 2
    filled = bridge(centre, 5 * rows)
    radius = bridge(np.stack([reach, reach], axis=1), 5 * rows)[:, 0]
    face: Array = np.concatenate([filled, radius[:, None]], axis=1).astype(np.float32)
    return face
