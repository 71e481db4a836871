"""Making a face unrecognisable.

The content of the ellipse is replaced by a few flat averages, melted into each other. Averages this
coarse hold no feature of a face, so nothing can be restored from a frame; the grid moves with the
face, so that neighbouring frames show the same averages and add nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from overlays.canvas import Blur, Canvas, Pixels, Point, known

CELLS = 5
"""Averages across the ellipse: eyes, nose and mouth each fall into one or two of them."""
FEATHER = 0.12
"""Soft edge, in radii, laid outside the ellipse: inside, nothing of the original is left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceBlur:
    """Blurs one face beyond recognition; draw it before everything else.

    Attributes:
        centre: Of the face, screen pixels. NaN draws nothing, so the caller must not pass it on
            for a face that is merely lost: pass the last place with a larger radius.
        radius: Half axis in pixels, or (horizontal, vertical).
    """

    centre: Point
    radius: float | tuple[float, float]

    def draw(self, canvas: Canvas) -> None:
        """Add the blur."""
        radius = self.radius if isinstance(self.radius, tuple) else (self.radius, self.radius)
        if known(self.centre, radius) and min(radius) > 0:
            canvas.add(Blur(self.centre, radius))


def blur_ellipse(image: Pixels, blur: Blur) -> None:
    """Blur an ellipse of a picture, in place.

    Args:
        image: (h, w) or (h, w, c) uint8, writable.
        blur: In the picture's pixels.
    """
    height, width = image.shape[:2]
    (centre_x, centre_y), (reach_x, reach_y) = blur.centre, _outer(blur.radius)
    left, right = max(0, math.floor(centre_x - reach_x)), min(width, math.ceil(centre_x + reach_x))
    top, bottom = max(0, math.floor(centre_y - reach_y)), min(height, math.ceil(centre_y + reach_y))
    if left >= right or top >= bottom:
        return
    region = image[top:bottom, left:right]
    melted = _melt(region, min(2 * min(blur.radius), region.shape[0], region.shape[1]) / CELLS)
    weight = _ellipse(region.shape[:2], (centre_x - left, centre_y - top), blur.radius)
    if region.ndim == 3:
        weight = weight[..., None]
    region[...] = np.rint(melted * weight + region * (1 - weight)).astype(np.uint8)


def blur_ellipse_yuv420(planes: tuple[Pixels, Pixels, Pixels], blur: Blur) -> None:
    """Blur an ellipse in all three planes of a 4:2:0 picture, in place."""
    luma, *chroma = planes
    blur_ellipse(luma, blur)
    (x, y), (across, down) = blur.centre, blur.radius
    for plane in chroma:
        blur_ellipse(plane, Blur((x / 2, y / 2), (across / 2, down / 2)))


def _outer(radius: tuple[float, float]) -> tuple[float, float]:
    return radius[0] * (1 + FEATHER) + 1, radius[1] * (1 + FEATHER) + 1


def _melt(region: Pixels, cell: float) -> Pixels:
    """The region as averages over cells of about `cell` pixels, smoothly joined."""
    height, width = region.shape[:2]
    grid = (max(1, round(width / cell)), max(1, round(height / cell)))
    coarse = cv2.resize(region, grid, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(coarse, (width, height), interpolation=cv2.INTER_LINEAR), np.uint8)


def _ellipse(
    shape: tuple[int, ...], centre: Point, radius: tuple[float, float]
) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    """1 inside the ellipse, falling to 0 over the feather outside it."""
    rows, columns = np.ogrid[: shape[0], : shape[1]]
    distance = np.sqrt(
        ((columns - centre[0]) / radius[0]) ** 2 + ((rows - centre[1]) / radius[1]) ** 2
    )
    return np.clip(1 - (distance - 1) / FEATHER, 0, 1).astype(np.float32)
