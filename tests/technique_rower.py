"""A drawn rower with known truth: a chain of rigid segments on a handle that turns smoothly."""

from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from studio.model.media import MediaFile, VideoStream
from studio.model.pose import LANDMARKS, PoseTrack

WIDTH, HEIGHT = 1280, 720
TRUNK, THIGH, SHANK, UPPER, FORE, HAND = 165.0, 150.0, 150.0, 95.0, 85.0, 30.0


@dataclass(frozen=True)
class Truth:
    """Clip times of the turns."""

    catches_s: tuple[float, ...]
    finishes_s: tuple[float, ...]


def rower(
    *,
    fps: float = 30.0,
    rate_spm: float = 24.0,
    drive_share: float = 0.44,
    strokes: int = 4,
    first_catch_s: float = 0.4,
    lean: float = 28.0,
    layback: float = 24.0,
    arms_from: float = 0.6,
    noise_px: float = 0.0,
    seed: int = 0,
) -> tuple[PoseTrack, Truth]:
    """Pose track of a rower who faces right, and its truth."""
    cycle = 60 / rate_spm
    catches = first_catch_s + cycle * np.arange(strokes)
    finishes = catches + drive_share * cycle
    time = np.arange(0, float(finishes[-1]) + 0.3 * cycle, 1 / fps)
    phase = (time - first_catch_s) / cycle % 1.0
    back = np.where(
        phase < drive_share,
        (1 - np.cos(np.pi * phase / drive_share)) / 2,
        (1 + np.cos(np.pi * (phase - drive_share) / (1 - drive_share))) / 2,
    )
    near = _body(back, lean, layback, arms_from)
    rng = np.random.default_rng(seed)
    xy = np.zeros((len(time), len(LANDMARKS), 2))
    for i, name in enumerate(LANDMARKS):
        side, _, part = name.partition("_")
        point = near[part] if side in ("left", "right") and part in near else near["nose"]
        xy[:, i] = point + ((6.0, -4.0) if side == "left" else (0.0, 0.0))
        if name == "left_elbow":  # so that it shows which side an angle was read on
            xy[:, i] += (0.0, 12.0)
    xy += rng.normal(0, noise_px, xy.shape) if noise_px else 0.0
    world = np.zeros((len(time), len(LANDMARKS), 3), np.float32)
    world[:, [i for i, n in enumerate(LANDMARKS) if n.startswith("left")], 2] = 0.15
    world[:, [i for i, n in enumerate(LANDMARKS) if n.startswith("right")], 2] = -0.15
    still = np.broadcast_to(np.eye(3)[:2], (len(time), 2, 3)).copy()
    pose = PoseTrack(
        time_s=time,
        xy_px=xy.astype(np.float32),
        score=np.full(xy.shape[:2], 0.95, np.float32),
        world_m=world,
        back_px=np.full((len(time), 15, 2), np.nan, np.float32),
        camera_px=still,
        roll_deg=None,
        width_px=WIDTH,
        height_px=HEIGHT,
        source="drawn",
    )
    end = time[-1]
    return pose, Truth(tuple(c for c in catches if c < end), tuple(f for f in finishes if f < end))


def _ramp(share, start, end):
    return np.clip((share - start) / (end - start), 0, 1)


def _body(back, lean, layback, arms_from):
    ankle = np.tile([900.0, 500.0], (len(back), 1))
    gap = 130 + (299.5 - 130) * _ramp(back, 0, 0.8)
    hip = ankle + np.stack([-gap, np.full_like(gap, -10.0)], axis=1)
    knee = _bend(hip, ankle, THIGH, SHANK, up=True)
    angle = np.radians(lean - (lean + layback) * _ramp(back, 0.1, 1))
    shoulder = hip + TRUNK * np.stack([np.sin(angle), -np.cos(angle)], axis=1)
    arms = _ramp(back, arms_from, 1.0)[:, None]
    wrist = shoulder + (1 - arms) * np.array([170.0, 55.0]) + arms * np.array([45.0, 90.0])
    elbow = _bend(shoulder, wrist, UPPER, FORE, up=False)
    reach = (wrist - elbow) / np.linalg.norm(wrist - elbow, axis=1, keepdims=True)
    knuckle = wrist + HAND * reach
    return {
        "shoulder": shoulder, "elbow": elbow, "wrist": wrist, "hip": hip, "knee": knee,
        "ankle": ankle, "heel": ankle + np.array([-5.0, 18.0]),
        "foot_index": ankle + np.array([60.0, -30.0]),
        "index": knuckle, "pinky": knuckle, "thumb": knuckle,
        "ear": shoulder + np.array([20.0, -60.0]), "eye": shoulder + np.array([40.0, -66.0]),
        "nose": shoulder + np.array([48.0, -56.0]),
    }  # fmt: skip


def _bend(first, last, upper, lower, *, up):
    line = last - first
    far = np.minimum(np.linalg.norm(line, axis=1), upper + lower - 0.2)
    along = (far**2 + upper**2 - lower**2) / (2 * far)
    across = np.sqrt(np.maximum(upper**2 - along**2, 0))
    way = line / np.linalg.norm(line, axis=1, keepdims=True)
    normal = np.stack([way[:, 1], -way[:, 0]], axis=1) * (1 if up else -1)
    return first + way * along[:, None] + normal * across[:, None]


def mirrored(pose: PoseTrack) -> PoseTrack:
    """As seen in a mirror: left becomes right."""
    swap = [LANDMARKS.index(_other(name)) for name in LANDMARKS]
    xy = pose.xy_px[:, swap].copy()
    xy[..., 0] = pose.width_px - xy[..., 0]
    world = pose.world_m[:, swap] * np.array([-1, 1, 1], np.float32)
    return replace(pose, xy_px=xy, score=pose.score[:, swap], world_m=world)


def _other(name):
    if "left" in name:
        return name.replace("left", "right")
    return name.replace("right", "left")


def reversed_in_time(pose: PoseTrack) -> PoseTrack:
    """Played backwards."""
    time = pose.time_s[-1] - pose.time_s[::-1]
    return replace(pose, time_s=time, xy_px=pose.xy_px[::-1].copy(),
                   score=pose.score[::-1].copy(), world_m=pose.world_m[::-1].copy())  # fmt: skip


def seen_from(pose: PoseTrack, yaw_deg: float, focal_px: float = WIDTH) -> PoseTrack:
    """The metric landmarks of a body that a pinhole camera sees from `yaw_deg` off square.

    A backend that is shown the body alone tells how it stands to the line of sight: the camera's
    yaw less the angle between that line and the camera's axis.
    """
    field = np.degrees(np.arctan((pose.xy_px[..., 0] - pose.width_px / 2) / focal_px))
    local = np.radians(yaw_deg - field)
    world = pose.world_m.copy()
    world[..., 0] = pose.world_m[..., 2] * np.sin(local)
    world[..., 2] = pose.world_m[..., 2] * np.cos(local)
    return replace(pose, world_m=world)


def media(fps: float = 30.0, capture: float | None = None) -> MediaFile:
    """What a probe would say of the rower's clip."""
    video = VideoStream(
        WIDTH, HEIGHT, 0, Fraction(fps).limit_denominator(1001), Fraction(1, 90000), Fraction(0),
        240, False, Fraction(1), "h264", "yuv420p", "sdr",
        None if capture is None else Fraction(capture),
    )  # fmt: skip
    return MediaFile("clip.mp4", "0", Fraction(10), video, None, ())
