"""How the camera stood, and what to tell the coach about it."""

from __future__ import annotations

import numpy as np

from studio.model.arrays import Array
from studio.model.pose import LANDMARKS, PoseTrack
from studio.model.technique import View

SQUARE_DEG = 15.0
"""Up to this yaw a sagittal angle is off by less than 1 degree (facts E2)."""
_PAIRS = ("shoulder", "hip")


def camera_view(pose: PoseTrack, toward: int) -> View:
    """Estimate the camera's yaw from the metric landmarks.

    The line through both hips, and that through both shoulders, lies across the boat: seen square
    on it runs straight into the picture. Its direction in the backend's metric landmarks is the yaw.

    Args:
        pose: As the backend saw it.
        toward: +1 when the athlete faces right.
    """
    yaws = []
    for name in _PAIRS:
        left, right = (LANDMARKS.index(f"{s}_{name}") for s in ("left", "right"))
        across: Array = pose.world_m[:, left] - pose.world_m[:, right]
        yaws.append(np.degrees(np.arctan2(toward * across[:, 0], toward * across[:, 2])))
    stacked = np.concatenate(yaws)
    good = stacked[np.isfinite(stacked)]
    if not len(good):
        return View(None, 0.0, False, ("The camera's angle cannot be told from this clip.",))
    yaw = float(np.median(good))
    square = abs(yaw) <= SQUARE_DEG
    warnings = () if square else (
        f"The camera stands about {abs(yaw):.0f} degrees off square. Put it level with the"
        " athlete's hip, straight from the side, three to four metres away.",
    )  # fmt: skip
    return View(round(yaw, 1), 0.0, square, warnings)
