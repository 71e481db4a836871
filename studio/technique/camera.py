"""How the camera moved in the hand, from the background."""

from __future__ import annotations

import cv2
import numpy as np

from studio.model.arrays import Array

_WIDTH_PX = 480
_POINTS = 120
_ENOUGH = 12
"""Fewer matched points than this say nothing about the camera."""

_STILL_PX = 0.05
"""A median shift below this is noise of the matching: adding it up would let a tripod drift."""


class CameraMotion:
    """Follows background points from frame to frame; the athlete's surroundings are left out."""

    def __init__(self, size_px: tuple[int, int]) -> None:
        self._share = min(1.0, _WIDTH_PX / size_px[0])
        self._small = (round(size_px[0] * self._share), round(size_px[1] * self._share))
        self._last: Array | None = None
        self._points: Array = np.zeros((0, 1, 2), np.float32)
        self._to_first = np.eye(3)
        self._all: list[Array] = []

    def add(self, image: Array, marks_px: Array | None) -> None:
        """One more frame: (H, W, 3) BGR, and the athlete's marks in it (None = not seen)."""
        grey = cv2.cvtColor(
            cv2.resize(image, self._small, interpolation=cv2.INTER_AREA), cv2.COLOR_BGR2GRAY
        )
        if self._last is not None and len(self._points) >= _ENOUGH:
            moved, found, _ = cv2.calcOpticalFlowPyrLK(
                self._last, grey, self._points, np.empty_like(self._points)
            )
            kept = found.ravel() == 1
            step = None
            way = moved[kept] - self._points[kept]
            if kept.sum() >= _ENOUGH and np.abs(np.median(way, axis=0)).max() > _STILL_PX:
                step, _ = cv2.estimateAffinePartial2D(
                    moved[kept], self._points[kept], ransacReprojThreshold=0.7
                )
            if step is not None:
                self._to_first = self._to_first @ np.vstack([step, [0.0, 0.0, 1.0]])
        self._points = self._fresh(grey, marks_px)
        self._last = grey
        self._all.append(self._to_first[:2].copy())

    def to_first(self, scale: Array) -> Array:
        """(T, 2, 3) float64: takes a point of frame t, displayed pixels, to the first frame's."""
        if not self._all:
            return np.zeros((0, 2, 3))
        steps = np.stack(self._all)
        grow = np.asarray(scale, float) / self._share
        steps[:, :, 2] *= grow
        steps[:, 0, 1] *= grow[0] / grow[1]
        steps[:, 1, 0] *= grow[1] / grow[0]
        return steps

    def _fresh(self, grey: Array, marks_px: Array | None) -> Array:
        free = np.full(grey.shape, 255, np.uint8)
        if marks_px is not None and np.isfinite(marks_px).all():
            low, high = marks_px.min(0) * self._share, marks_px.max(0) * self._share
            room = 0.1 * (high - low)
            (x0, y0), (x1, y1) = (low - room).astype(int).clip(0), (high + room).astype(int).clip(0)
            free[y0:y1, x0:x1] = 0
        points: Array | None = cv2.goodFeaturesToTrack(grey, _POINTS, 0.01, 8, mask=free)
        return np.zeros((0, 1, 2), np.float32) if points is None else points
