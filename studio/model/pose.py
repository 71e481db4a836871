"""The raw pose of the clip, as a backend saw it: nothing smoothed, nothing corrected."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studio.model.arrays import Array

LANDMARKS: tuple[str, ...] = (
    "nose", "left_eye_inner", "left_eye", "left_eye_outer", "right_eye_inner", "right_eye",
    "right_eye_outer", "left_ear", "right_ear", "mouth_left", "mouth_right", "left_shoulder",
    "right_shoulder", "left_elbow", "right_elbow", "left_wrist", "right_wrist", "left_pinky",
    "right_pinky", "left_index", "right_index", "left_thumb", "right_thumb", "left_hip",
    "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle", "left_heel",
    "right_heel", "left_foot_index", "right_foot_index",
)  # fmt: skip
"""The 33 landmarks of MediaPipe's pose solution, in its order."""


@dataclass(frozen=True, slots=True)
class PoseTrack:
    """One athlete's landmarks over the clip.

    Attributes:
        time_s: (T,) float64, strictly rising, clip time (pts, first frame = 0).
        xy_px: (T, 33, 2) float32, x right, y down, displayed pixels; NaN = not seen.
        score: (T, 33) float32, 0-1, the backend's visibility.
        world_m: (T, 33, 3) float32, metres about the hip centre, camera axes; NaN = not seen.
        back_px: (T, B, 2) float32, the back's outline from the silhouette, hip to shoulder; NaN
            where there is none.
        roll_deg: Tilt of the camera by the straight lines in the picture, + when the world leans
            clockwise; None = not to be told.
        width_px: Of the displayed picture.
        height_px: Of the displayed picture.
        source: Backend, weights and version, e.g. "mediapipe 0.10.21 full".
    """

    time_s: Array
    xy_px: Array
    score: Array
    world_m: Array
    back_px: Array
    camera_px: Array
    roll_deg: float | None
    width_px: int
    height_px: int
    source: str

    def __post_init__(self) -> None:
        t = len(self.time_s)
        if self.xy_px.shape != (t, len(LANDMARKS), 2):
            raise ValueError(f"xy_px: wanted ({t}, {len(LANDMARKS)}, 2), got {self.xy_px.shape}")
        if self.camera_px.shape != (t, 2, 3):
            raise ValueError(f"camera_px: wanted ({t}, 2, 3), got {self.camera_px.shape}")
        if t > 1 and not (np.diff(self.time_s) > 0).all():
            raise ValueError("time_s does not rise strictly")
