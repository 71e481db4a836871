"""How the camera stood, and what to tell the coach about it."""

from __future__ import annotations

import numpy as np

from studio.model.arrays import Array
from studio.model.pose import LANDMARKS, PoseTrack
from studio.model.technique import View

SQUARE_DEG = 20.0
"""Up to this yaw projection puts a sagittal angle off by 1.6 degrees, less than the pose does."""
LIMIT_DEG = 45.0
"""Past this yaw the camera stands nearer to the front than to the side, and an error of the yaw by
8 degrees costs as many in the angles: none is given."""
YAW_ERROR_DEG = 8.0
"""Expected error of the estimate; a yaw within it is not corrected for."""
ROLL_ERROR_DEG = 2.0
"""Expected error of the tilt; a tilt within it is not corrected for."""
_PAIRS = ("shoulder", "elbow", "knee")
"""Rowers hold a straight handle and a footplate, so these lines lie across the boat. The line
through the hips' marks does not serve: they sit in the folds of the hips, off the joints. Far hands
and feet are hidden by the near ones, so that theirs are guesses."""
_FOCAL_SHARE = 1.0
"""Focal length over the picture's longer side, where no file tells it. A phone's usual lens (26 mm
equivalent, cropped a little for video) has 0.75 to 0.85, its longer one 1.5 and more; being off by
that costs a fifth to a third of the field angle, which is 8 degrees a seventh off the middle."""


def camera_view(pose: PoseTrack, toward: int) -> View:
    """Estimate the camera's yaw from the metric landmarks.

    Seen square on, a line across the boat runs straight into the picture; its direction in the
    backend's metric landmarks is the yaw, + when the camera stands toward the flywheel's end.

    Args:
        pose: As the backend saw it.
        toward: +1 when the athlete faces right.
    """
    across = np.sum([_across(pose, name, toward) for name in _PAIRS], axis=0)
    turned = np.degrees(np.arctan2(across[:, 0], across[:, 1]))
    if not np.isfinite(turned).any():
        return View(
            None,
            correctable_roll(pose),
            False,
            ("The camera's angle cannot be told from this clip.",),
        )
    yaw = float(np.nanmedian(turned))
    square = abs(yaw) <= SQUARE_DEG
    warnings: tuple[str, ...] = ()
    if not square:
        warnings = (
            f"The camera stands about {abs(yaw):.0f} degrees off square. Put it level with the"
            " athlete's hip, straight from the side, three to four metres away.",
        )
    return View(round(yaw, 1), correctable_roll(pose), square, warnings)


def _across(pose: PoseTrack, name: str, toward: int) -> Array:
    """(T, 2) metres from the near to the far one of a pair: toward the flywheel, and away.

    The backend sees the athlete alone, cut out of the picture, and so tells how they stand to the
    line of sight. That is not the camera's axis but off it by the field angle of where they are:
    a rower left of the middle shows a little of the chest to a camera that stands square.
    """
    left, right = (LANDMARKS.index(f"{side}_{name}") for side in ("left", "right"))
    line = (pose.world_m[:, left] - pose.world_m[:, right]).astype(float)
    ahead, away = line[:, 0], toward * line[:, 2]
    field = toward * field_angle(pose, pose.xy_px[:, [left, right], 0].mean(axis=1))
    c, s = np.cos(field), np.sin(field)
    return np.stack([c * ahead + s * away, c * away - s * ahead], axis=1)


def focal_px(pose: PoseTrack) -> float:
    """The focal length taken for granted, pixels."""
    return _FOCAL_SHARE * max(pose.width_px, pose.height_px)


def field_angle(pose: PoseTrack, x_px: Array) -> Array:
    """How far off the camera's axis columns of the picture are seen, radians, + to the right."""
    angle: Array = np.arctan2(x_px - pose.width_px / 2, focal_px(pose))
    return angle


def correctable_roll(pose: PoseTrack) -> float:
    """The tilt that everything is levelled by, degrees."""
    roll = pose.roll_deg or 0.0
    return roll if abs(roll) > ROLL_ERROR_DEG else 0.0


def correctable_yaw(view: View) -> float:
    """The yaw that angles are corrected for, degrees: none while it may be the estimate's error."""
    yaw = view.yaw_deg or 0.0
    beyond = float(np.sqrt(max(0.0, yaw**2 - YAW_ERROR_DEG**2)))
    return float(np.copysign(min(beyond, LIMIT_DEG), yaw))
