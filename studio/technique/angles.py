"""Angles of a body seen from the side; the sign conventions are those of docs/data-model.md."""

from __future__ import annotations

import numpy as np

from studio.model.arrays import Array


def from_vertical(low: Array, high: Array, toward: int) -> Array:
    """Angle of the line low -> high against vertical.

    Args:
        low: (..., 2) px, y down.
        high: (..., 2) px.
        toward: +1 when the flywheel lies to the right in the picture, -1 to the left.

    Returns:
        (...) degrees, + when `high` lies nearer the flywheel; NaN stays NaN.
    """
    line = high - low
    angle: Array = np.degrees(np.arctan2(toward * line[..., 0], -line[..., 1]))
    return angle


def interior(first: Array, middle: Array, last: Array) -> Array:
    """Angle at `middle` between two neighbours, (..., 2) px -> (...) degrees, 180 = straight."""
    a, b = first - middle, last - middle
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    dot = (a * b).sum(-1)
    angle: Array = np.degrees(np.arctan2(np.abs(cross), dot))
    return angle


def body_angles(points_px: dict[str, Array], toward: int) -> dict[str, Array]:
    """The five angles of the contract from near-side points, each (T, 2) px -> (T,) degrees."""
    p = points_px
    return {
        "trunk": from_vertical(p["hip"], p["shoulder"], toward),
        "shin": from_vertical(p["ankle"], p["knee"], toward),
        "knee": interior(p["hip"], p["knee"], p["ankle"]),
        "elbow": interior(p["shoulder"], p["elbow"], p["wrist"]),
        "hip": interior(p["shoulder"], p["hip"], p["knee"]),
    }
