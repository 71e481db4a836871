"""How far the picture is tilted, from the straight lines in it."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from studio.model.arrays import Array

_WIDTH_PX = 640
_STEEPEST_DEG = 10.0
"""Lines further than this from upright or level are no wall edges and no rail."""
_SHORTEST_SHARE = 0.12
"""Of the picture's width: shorter lines are clutter."""
_AGREE_DEG = 2.0
"""Upright and level lines must agree on the tilt to within this; else it is not to be told."""


def picture_roll(pictures: Sequence[Array]) -> float | None:
    """Tilt of the camera, degrees, + when the world leans clockwise; None = not to be told.

    Upright edges of a room stay upright and the rail and the floor's edges stay level in a picture
    taken square and level, so a common slant of both is the camera's. Level edges alone will not
    do: seen from off square, and from above, they slant by perspective.

    Args:
        pictures: (H, W, 3) uint8 RGB pictures spread over the clip.
    """
    upright, level = [], []
    for picture in pictures:
        for slant, length in _lines(picture):
            off_level = (slant + 90) % 180 - 90
            off_upright = slant % 180 - 90
            if abs(off_upright) < _STEEPEST_DEG:
                upright.append((off_upright, length))
            elif abs(off_level) < _STEEPEST_DEG:
                level.append((off_level, length))
    if len(upright) < len(pictures) or len(level) < len(pictures):
        return None
    tilts = [_weighted_median(lines) for lines in (upright, level)]
    return round(float(np.mean(tilts)), 2) if abs(tilts[0] - tilts[1]) <= _AGREE_DEG else None


def _lines(picture: Array) -> list[tuple[float, float]]:
    """Slant in degrees (0 = level, y down) and length of the straight edges in a picture."""
    share = min(1.0, _WIDTH_PX / picture.shape[1])
    size = round(picture.shape[1] * share), round(picture.shape[0] * share)
    grey = cv2.cvtColor(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), cv2.COLOR_RGB2GRAY)
    found: Array | None = cv2.createLineSegmentDetector().detect(grey)[0]
    if found is None:
        return []
    ends = np.asarray(found, float).reshape(-1, 4)
    run, drop = ends[:, 2] - ends[:, 0], ends[:, 3] - ends[:, 1]
    length = np.hypot(run, drop)
    slant = np.degrees(np.arctan2(drop, run))
    long = length >= _SHORTEST_SHARE * size[0]
    return list(zip(slant[long].tolist(), length[long].tolist(), strict=True))


def _weighted_median(pairs: list[tuple[float, float]]) -> float:
    ordered = sorted(pairs)
    half = np.cumsum([length for _, length in ordered])
    return ordered[int(np.searchsorted(half, half[-1] / 2))][0]
