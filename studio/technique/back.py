"""The back's outline from the silhouette."""

from __future__ import annotations

import numpy as np

from studio.model.arrays import Array

STATIONS = 15
"""Points of the outline, evenly from hip to shoulder, both ends left out of the row."""
_REACH = 0.45
"""How far behind the hip-shoulder line the back is looked for, as a share of its length."""
_SAMPLES = 60


def back_outline(mask: Array, hip_px: Array, shoulder_px: Array, forward: int) -> Array:
    """Where the silhouette ends behind the trunk.

    Args:
        mask: (H, W) float32, 0-1.
        hip_px: (2,) mark of the hip.
        shoulder_px: (2,) mark of the shoulder.
        forward: +1 when the athlete faces right, -1 left.

    Returns:
        (STATIONS, 2) float32 pixels; NaN where the silhouette does not end within reach, or where
        that would be outside the picture.
    """
    out = np.full((STATIONS, 2), np.nan, np.float32)
    axis = np.asarray(shoulder_px, float) - np.asarray(hip_px, float)
    length = float(np.hypot(*axis))
    if not np.isfinite(length) or length < 8:
        return out
    behind = np.array([axis[1], -axis[0]]) / length * forward
    starts = np.asarray(hip_px) + np.linspace(0, 1, STATIONS + 2)[1:-1, None] * axis
    steps = np.linspace(0.0, _REACH * length, _SAMPLES)
    spots = starts[:, None] + steps[None, :, None] * behind
    column, row = np.rint(spots[..., 0]).astype(int), np.rint(spots[..., 1]).astype(int)
    height, width = mask.shape
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    body = np.where(inside, mask[row.clip(0, height - 1), column.clip(0, width - 1)], np.nan)
    for i, along in enumerate(body):
        ends = np.flatnonzero((along[:-1] >= 0.5) & (along[1:] < 0.5))
        if len(ends) and along[0] >= 0.5:
            k = int(ends[0])
            share = (along[k] - 0.5) / (along[k] - along[k + 1])
            out[i] = starts[i] + (steps[k] + share * (steps[k + 1] - steps[k])) * behind
    return out
