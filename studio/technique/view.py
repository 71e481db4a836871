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
_PAIRS = ("shoulder", "knee")
"""Rowers hold a straight handle and a footplate, so both lines lie across the boat. The line
through the hips' marks does not serve: they sit in the folds of the hips, off the joints."""


def camera_view(pose: PoseTrack, toward: int) -> View:
    """Estimate the camera's yaw from the metric landmarks.

    Seen square on, a line across the boat runs straight into the picture; its direction in the
    backend's metric landmarks is the yaw, + when the camera stands toward the flywheel's end.

    Args:
        pose: As the backend saw it.
        toward: +1 when the athlete faces right.
    """
    yaws = []
    for name in _PAIRS:
        left, right = (LANDMARKS.index(f"{s}_{name}") for s in ("left", "right"))
        across: Array = pose.world_m[:, left] - pose.world_m[:, right]
        turned = np.degrees(np.arctan2(across[:, 0], toward * across[:, 2]))
        if np.isfinite(turned).any():
            yaws.append(float(np.nanmedian(turned)))
    if not yaws:
        return View(
            None,
            correctable_roll(pose),
            False,
            ("The camera's angle cannot be told from this clip.",),
        )
    yaw = float(np.mean(yaws))
    square = abs(yaw) <= SQUARE_DEG
    warnings: tuple[str, ...] = ()
    if not square:
        warnings = (
            f"The camera stands about {abs(yaw):.0f} degrees off square. Put it level with the"
            " athlete's hip, straight from the side, three to four metres away.",
        )
    return View(round(yaw, 1), correctable_roll(pose), square, warnings)


def correctable_roll(pose: PoseTrack) -> float:
    """The tilt that everything is levelled by, degrees."""
    roll = pose.roll_deg or 0.0
    return roll if abs(roll) > ROLL_ERROR_DEG else 0.0


def correctable_yaw(view: View) -> float:
    """The yaw that angles are corrected for, degrees: none while it may be the estimate's error."""
    yaw = abs(view.yaw_deg or 0.0)
    return float(min(np.sqrt(max(0.0, yaw**2 - YAW_ERROR_DEG**2)), LIMIT_DEG))
