"""Pose track to body track: the near side, steadied, smoothed, moved to the joint centres."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studio.config import MovedJoint
from studio.errors import EvidenceError
from studio.model.arrays import Array
from studio.model.pose import LANDMARKS, PoseTrack
from studio.model.technique import POINTS, BodyTrack
from studio.technique.angles import body_angles
from studio.technique.joints import in_arm_plane, joint_centres
from studio.technique.view import field_angle, focal_px

LEAST_SCORE = 0.3
"""Below this a landmark is a guess about something hidden or out of the picture."""
LONGEST_GAP_S = 0.2
"""Real seconds over which a point may be carried by its neighbours in time."""
SMOOTHING_S = 0.25
"""Real seconds of the cubic fit. Human movement in rowing lies below 6 Hz; a cubic
Savitzky-Golay fit of this length passes 5 Hz at -3 dB (Schafer 2011, IEEE SPM 28:111)."""
ARM_SMOOTHING_S = 0.12
"""The same for elbow and hand, which turn about quicker than the rest: 10 Hz at -3 dB."""
TAPER_S = 0.15
"""Real seconds on both sides over which a point put right by hand draws its neighbours along."""
AROUND_S = 5.0
"""Clip seconds over which the usual body is told: two strokes."""
TRUNK_CHANGE = 0.35
"""A trunk shorter or longer by more than this is another's: bending and pose error make 0.2."""
HIP_CHANGE = 0.4
"""Hips this far off their height, in trunks, sit on no rail."""
FEET_CHANGE = 0.75
"""Feet this far off their place, in trunks, stand on no footplate."""
FEET_SEEN = 0.7
"""Where the feet show in fewer frames than this share, their place says nothing."""
FOOT_CHANGE = 0.4
"""A foot this far off its place, in trunks, is a mark on something else. The ankle of a strapped
foot moves with the heel by 0.1 to 0.2; marks halfway up the shin are 0.4 and more away."""
_FACE = ("nose", "left_eye", "right_eye", "left_ear", "right_ear", "mouth_left", "mouth_right")
_FACE_ROOM = 1.9
"""Eyes, ears and mouth lie within the face; forehead, chin and hair reach nearly twice as far."""
UPPER_OUT = (0.129 - 0.191 / 2) / 0.288
"""How much further out than the hip a shoulder is, in trunks: half the shoulders' breadth less half
the hips', over the trunk (Drillis & Contini 1966, in Winter, fig. 4.1, from memory)."""
_UPPER = ("shoulder", "elbow", "wrist", "handle", "ear")
_ARM = ("elbow", "wrist", "handle")
_FOOT = ("ankle", "heel", "toe")
_LEADS = (("hip", "ankle"), ("hip", "knee"), ("shoulder", "wrist"), ("heel", "foot_index"))
"""Pairs of which the second lies nearer the flywheel through most of any stroke."""


def body_track(
    pose: PoseTrack,
    time_factor: float = 1.0,
    *,
    yaw_deg: float = 0.0,
    roll_deg: float = 0.0,
    moved: tuple[MovedJoint, ...] = (),
) -> BodyTrack:
    """The near side of the athlete.

    Args:
        pose: As the backend saw it.
        time_factor: Clip seconds per real second.
        yaw_deg: Camera's turn off square, + toward the flywheel; angles are corrected for it.
        roll_deg: Camera's tilt, for which angles are corrected.
        moved: Points that the coach has put right.

    Raises:
        EvidenceError: Nobody is in the clip, or the facing cannot be told.
    """
    pose = one_person(pose)
    toward = facing(pose)
    side = "right" if toward > 0 else "left"  # who faces right shows the camera the right side
    step = float(np.median(np.diff(pose.time_s))) if len(pose.time_s) > 1 else 1 / 30
    rows = max(1, round(LONGEST_GAP_S * time_factor / step))
    slow, quick = (
        max(5, 2 * round(length * time_factor / step / 2) + 1)
        for length in (SMOOTHING_S, ARM_SMOOTHING_S)
    )
    points: dict[str, Array] = {}
    scores: dict[str, Array] = {}
    astray = _foot_astray(pose, side)
    for name in POINTS:
        raw, scores[name] = near_mark(pose, side, name)
        if name in _FOOT:
            raw[astray] = np.nan
        window = quick if name in _ARM else slow
        points[name] = smooth(bridge(despike(steady(raw, pose)), rows), window)
    points["handle"] = _grip(points["wrist"], points["handle"])
    points = joint_centres(points, toward)
    points["handle"] = smooth(points["handle"], slow)  # its turns are timed: steady before quick
    points = {name: unsteady(p, pose) for name, p in points.items()}
    points = _put_right(points, pose, moved, TAPER_S * time_factor)
    flat = {**points, "elbow": _flat_elbow(points, pose, side, slow)}
    return BodyTrack(
        time_s=pose.time_s,
        points_px={name: p.astype(np.float32) for name, p in points.items()},
        angles_deg=measured_angles(levelled(flat, pose, roll_deg), toward, yaw_deg),
        score=scores,
        face_px=_face(pose, rows),
        facing="right" if toward > 0 else "left",
        source=pose.source,
    )


def _flat_elbow(points: dict[str, Array], pose: PoseTrack, side: str, window: int) -> Array:
    """The elbow in the arm's plane, (T, 2) px, by the backend's metric landmarks."""
    shoulder, elbow, hip = (
        pose.world_m[:, LANDMARKS.index(f"{side}_{name}")].astype(float)
        for name in ("shoulder", "elbow", "hip")
    )
    trunk_px = _usual_length(points["shoulder"] - points["hip"])
    trunk_m = _usual_length(shoulder - hip)
    if not trunk_m > 0:
        return points["elbow"]  # no metric landmarks
    # the backend tells depth along the line of sight to the athlete, not along the camera's axis
    field = field_angle(pose, points["shoulder"][:, 0])
    line = elbow - shoulder
    nearer_m = np.sin(field) * line[:, 0] - np.cos(field) * line[:, 2]
    nearer_px = smooth(nearer_m[:, None], window)[:, 0] * trunk_px / trunk_m
    middle = np.array([pose.width_px, pose.height_px]) / 2
    return in_arm_plane(points, nearer_px, middle, focal_px(pose))


def _usual_length(lines: Array) -> float:
    """Median length of (T, n) lines; NaN where none is known."""
    lengths = np.linalg.norm(lines, axis=1)
    return float(np.nanmedian(lengths)) if np.isfinite(lengths).any() else float("nan")


def measured_angles(level_px: dict[str, Array], toward: int, yaw_deg: float) -> dict[str, Array]:
    """The five angles, (T,) float32 degrees, from levelled points, corrected for yaw.

    Besides the shrinking along the boat, what lies further out toward the camera moves by the sine
    of the yaw: shoulders and arms against hips and legs.
    """
    out = UPPER_OUT * np.nan_to_num(_usual_length(level_px["shoulder"] - level_px["hip"]))
    back = np.array([toward * out * np.sin(np.radians(yaw_deg)), 0.0])
    plane = {name: p + back * (name in _UPPER) for name, p in level_px.items()}
    angles = body_angles(widened(plane, yaw_deg), toward)
    return {name: angle.astype(np.float32) for name, angle in angles.items()}


def widened(points_px: dict[str, Array], yaw_deg: float) -> dict[str, Array]:
    """(T, 2) px as seen square on: off it lengths along the boat shrink by the yaw's cosine."""
    stretch = np.array([1 / np.cos(np.radians(yaw_deg)), 1.0])
    return {name: p * stretch for name, p in points_px.items()}


def levelled(points_px: dict[str, Array], pose: PoseTrack, roll_deg: float) -> dict[str, Array]:
    """Points as a still and level camera would have seen them, (T, 2) px each."""
    c, s = np.cos(np.radians(roll_deg)), np.sin(np.radians(roll_deg))
    turn = np.array([[c, s], [-s, c]])
    return {name: steady(p.astype(float), pose) @ turn.T for name, p in points_px.items()}


def one_person(pose: PoseTrack) -> PoseTrack:
    """The track without the frames in which it holds on to somebody or something else.

    The seat runs on a straight rail, the feet stay on the footplate and a trunk keeps its length:
    they stay near what they are for seconds around; a passer-by's do not. That holds before the
    background where the camera pans about, and in the picture where it follows a boat.
    """
    hip, shoulder, ankle = (_pair(pose, n) for n in ("hip", "shoulder", "ankle"))
    good = np.isfinite(hip + shoulder).all(axis=1)
    if good.sum() < 5:
        return pose
    rows = max(3, round(AROUND_S / float(np.median(np.diff(pose.time_s)))))
    trunk = np.linalg.norm(shoulder - hip, axis=1)[good]
    usual = _usual(trunk, rows)
    feet = [LANDMARKS.index(f"{s}_ankle") for s in ("left", "right")]
    shown = pose.score[good][:, feet].max(axis=1) >= LEAST_SCORE
    if shown.mean() <= FEET_SEEN:
        shown[:] = False
    stays = np.zeros(len(trunk), dtype=bool)
    for seat, plate in ((hip, ankle), (steady(hip, pose), steady(ankle, pose))):
        off_seat = np.abs(seat[good, 1] - _usual(seat[good, 1], rows))
        place = np.stack([_usual(plate[good, k], rows) for k in (0, 1)], axis=1)
        off_plate = np.linalg.norm(plate[good] - place, axis=1)
        stays |= (off_seat < HIP_CHANGE * usual) & (~shown | (off_plate < FEET_CHANGE * usual))
    other = np.flatnonzero(good)[~(stays & (np.abs(trunk / usual - 1) < TRUNK_CHANGE))]
    xy, score, world = pose.xy_px.copy(), pose.score.copy(), pose.world_m.copy()
    xy[other], score[other], world[other] = np.nan, 0.0, np.nan
    return replace(pose, xy_px=xy, score=score, world_m=world)


def _foot_astray(pose: PoseTrack, side: str) -> Array:
    """(T,) bool: where the near foot's marks lie off the footplate that it is strapped to."""
    ankle, _ = near_mark(pose, side, "ankle")
    trunk = np.linalg.norm(_pair(pose, "shoulder") - _pair(pose, "hip"), axis=1)
    good = np.isfinite(ankle).all(axis=1)
    astray = np.zeros(len(ankle), dtype=bool)
    if good.sum() < 5:
        return astray
    rows = max(3, round(AROUND_S / float(np.median(np.diff(pose.time_s)))))
    off = np.full((2, int(good.sum())), np.inf)
    for i, seen in enumerate((ankle, steady(ankle, pose))):
        place = np.stack([_usual(seen[good, k], rows) for k in (0, 1)], axis=1)
        off[i] = np.linalg.norm(seen[good] - place, axis=1)
    astray[good] = off.min(axis=0) > FOOT_CHANGE * np.nanmedian(trunk)
    return astray


def _pair(pose: PoseTrack, name: str) -> Array:
    """(T, 2) middle of the left and the right mark."""
    both = [LANDMARKS.index(f"{side}_{name}") for side in ("left", "right")]
    middle: Array = pose.xy_px[:, both].astype(float).mean(axis=1)
    return middle


def _usual(values: Array, rows: int) -> Array:
    """Running median of (T,); at the ends of those on one side, not of the end over and over."""
    from scipy.ndimage import median_filter

    usual: Array = median_filter(values, size=rows, mode="reflect")
    return usual


def near_mark(pose: PoseTrack, side: str, name: str) -> tuple[Array, Array]:
    """A near-side point as the backend saw it, (T, 2) px, NaN where it is a guess; its score."""
    marks = {"handle": ("index", "pinky"), "toe": ("foot_index",)}.get(name, (name,))
    columns = [LANDMARKS.index(f"{side}_{m}") for m in marks]
    score: Array = pose.score[:, columns].min(axis=1)
    raw = pose.xy_px[:, columns].astype(float).mean(axis=1)
    raw[~inside(raw, pose) | (score < LEAST_SCORE)] = np.nan
    return raw, score


def _grip(wrist: Array, knuckles: Array) -> Array:
    """The knuckles; where they hide, as far from the wrist as at the nearest moment they show."""
    hand = knuckles - wrist
    good = np.isfinite(hand).all(axis=1)
    if not good.any():
        return wrist
    at = np.arange(len(hand))
    guess = wrist + np.stack([np.interp(at, at[good], hand[good, k]) for k in (0, 1)], axis=1)
    return np.where(np.isnan(knuckles), guess, knuckles)


def facing(pose: PoseTrack) -> int:
    """+1 when the athlete faces right, -1 left: feet, knees and hands lie toward the flywheel.

    Raises:
        EvidenceError: Nobody is in the clip, or no such pair is ever seen.
    """
    if not np.isfinite(pose.xy_px).any():
        raise EvidenceError(
            "nobody can be seen in the clip.",
            "Film one athlete from the side, the whole body and the handle in the picture.",
        )
    votes = 0.0
    for back, front in _LEADS:
        lead = _middle(pose, front) - _middle(pose, back)
        if np.isfinite(lead).any():
            votes += float(np.sign(np.nanmedian(lead)))
    if votes == 0:
        raise EvidenceError(
            "the clip does not show which way the athlete faces.",
            "Film the whole athlete from the side, feet and seat included.",
        )
    return 1 if votes > 0 else -1


def _middle(pose: PoseTrack, name: str) -> Array:
    """(T,) x of a pair's middle; NaN where both are guesses."""
    pair = [LANDMARKS.index(f"{side}_{name}") for side in ("left", "right")]
    middle: Array = pose.xy_px[:, pair, 0].astype(float).mean(axis=1)
    middle[pose.score[:, pair].max(axis=1) < LEAST_SCORE] = np.nan
    return middle


def steady(xy: Array, pose: PoseTrack) -> Array:
    """(T, 2) where the first frame's camera would have seen each point."""
    turn, shift = pose.camera_px[:, :, :2], pose.camera_px[:, :, 2]
    out: Array = np.einsum("tij,tj->ti", turn, xy) + shift
    return out


def unsteady(xy: Array, pose: PoseTrack) -> Array:
    """The inverse of `steady`."""
    turn, shift = pose.camera_px[:, :, :2], pose.camera_px[:, :, 2]
    out: Array = np.einsum("tij,tj->ti", np.linalg.inv(turn), xy - shift)
    return out


def _put_right(
    points: dict[str, Array], pose: PoseTrack, moved: tuple[MovedJoint, ...], taper_s: float
) -> dict[str, Array]:
    out = dict(points)
    for one in moved:
        if one.joint not in out or not len(pose.time_s):
            continue
        row = int(np.argmin(np.abs(pose.time_s - one.clip_s)))
        xy = out[one.joint].copy()
        target = np.array([one.x_px, one.y_px])
        if np.isfinite(xy[row]).all():
            share = np.clip(1 - np.abs(pose.time_s - pose.time_s[row]) / taper_s, 0, 1)
            xy = xy + share[:, None] * (target - xy[row])
        else:
            xy[row] = target
        out[one.joint] = xy
    return out


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


def despike(xy: Array) -> Array:
    """Drop single wild points of (T, 2): those far from the median of their seven neighbours."""
    from scipy.ndimage import median_filter

    good = np.isfinite(xy).all(axis=1)
    if good.sum() < 7:
        return xy
    known = xy[good]
    off = np.linalg.norm(known - median_filter(known, size=(7, 1), mode="nearest"), axis=1)
    usual = 1.4826 * np.median(off) + 1e-6
    out = xy.copy()
    # 6 robust deviations, and never less than 8 % of the path's extent: a fast turn is no spike
    out[np.flatnonzero(good)[off > max(6 * usual, 0.08 * np.ptp(known, axis=0).max())]] = np.nan
    return out


def _face(pose: PoseTrack, rows: int) -> Array:
    """(T, 3): a circle that holds the face, forehead and chin included."""
    columns = [LANDMARKS.index(name) for name in _FACE]
    marks = pose.xy_px[:, columns].astype(float)
    centre = marks.mean(axis=1)
    reach = _FACE_ROOM * np.linalg.norm(marks - centre[:, None], axis=-1).max(axis=1)
    filled = bridge(centre, 5 * rows)
    radius = bridge(np.stack([reach, reach], axis=1), 5 * rows)[:, 0]
    face: Array = np.concatenate([filled, radius[:, None]], axis=1).astype(np.float32)
    return face
