"""Where a clip's picture stands on a screen: scale and shift along each axis, mirrored or not.

Clip and screen both measure in pixels, x right, y down, (0, 0) the top-left corner of the top-left
pixel, so that a pixel's centre lies at +0.5.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from studio.model.arrays import Array


@dataclass(frozen=True, slots=True)
class Place:
    """screen x = `ax` * clip x + `tx`, screen y = `ay` * clip y + `ty`; `ax` < 0 when mirrored."""

    ax: float
    ay: float
    tx: float
    ty: float

    def matrix(self) -> Array:
        """(2, 3) float64: screen = matrix @ (x, y, 1)."""
        return np.array([[self.ax, 0.0, self.tx], [0.0, self.ay, self.ty]])

    def box(self, width_px: float, height_px: float) -> Array:
        """(4,) x0, y0, x1, y1 on screen of a clip picture of that size."""
        x0, x1 = sorted((self.tx, self.ax * width_px + self.tx))
        return np.array([x0, self.ty, x1, self.ay * height_px + self.ty])

    def corrected(self, shift: Array) -> Place:
        """The place that would have shown the clip where it was found instead.

        Args:
            shift: (4,) gx, bx, gy, by in clip pixels: what stands at clip point (x, y) under this
                place really belongs at (x + gx x + bx, y + gy y + by).
        """
        gx, bx, gy, by = (float(v) for v in shift)
        ax, ay = self.ax / (1 + gx), self.ay / (1 + gy)
        return Place(ax, ay, self.tx - ax * bx, self.ty - ay * by)

    def apart(self, other: Place, corners: Array) -> float:
        """Largest distance, screen pixels, between where the two put clip points (n, 2)."""
        dx = (self.ax - other.ax) * corners[:, 0] + self.tx - other.tx
        dy = (self.ay - other.ay) * corners[:, 1] + self.ty - other.ty
        return float(np.hypot(dx, dy).max())


@dataclass(frozen=True, slots=True)
class Grid:
    """A clip picture of `clip_px` (w, h) reduced to `size_px` (w, h) cells."""

    clip_px: tuple[int, int]
    size_px: tuple[int, int]

    def step(self) -> tuple[float, float]:
        """Clip pixels per cell along x and y."""
        return self.clip_px[0] / self.size_px[0], self.clip_px[1] / self.size_px[1]

    def centres(self) -> tuple[Array, Array]:
        """Clip x of every column (w,) and clip y of every row (h,), at the cells' centres."""
        sx, sy = self.step()
        w, h = self.size_px
        return (np.arange(w) + 0.5) * sx, (np.arange(h) + 0.5) * sy


def overlap(a: Array, b: Array) -> Array:
    """(4,) x0, y0, x1, y1 common to two boxes."""
    return np.concatenate([np.maximum(a[:2], b[:2]), np.minimum(a[2:], b[2:])])


def sample(screen: Array, shrink: float, place: Place, grid: Grid) -> Array:
    """The clip's picture as it stands on the screen, brought onto the clip's grid.

    Where the screen is finer than the grid it is averaged first, so that nothing aliases.

    Args:
        screen: (H, W) uint8, the screen reduced by `shrink`.
        shrink: Screen pixels per pixel of `screen`.
        place: Where the clip is.
        grid: What to bring it onto.

    Returns:
        (h, w) uint8; cells beyond the screen repeat its edge.
    """
    sx, sy = grid.step()
    per_x, per_y = place.ax * sx / shrink, place.ay * sy / shrink
    off_x, off_y = place.tx / shrink, place.ty / shrink
    ratio = int(max(abs(per_x), abs(per_y)) + 0.5)
    if ratio > 1:
        height, width = screen.shape
        x0, x1 = sorted((off_x, off_x + per_x * grid.size_px[0]))
        y0, y1 = off_y, off_y + per_y * grid.size_px[1]
        left, top = max(0, int(x0) - ratio), max(0, int(y0) - ratio)
        cols = (min(width, int(x1) + 2 * ratio) - left) // ratio
        rows = (min(height, int(y1) + 2 * ratio) - top) // ratio
        if cols > 1 and rows > 1:
            part = screen[top : top + rows * ratio, left : left + cols * ratio]
            screen = cv2.resize(part, (cols, rows), interpolation=cv2.INTER_AREA)
            per_x, per_y = per_x / ratio, per_y / ratio
            off_x, off_y = (off_x - left) / ratio, (off_y - top) / ratio
    # cell g has its centre at g + 0.5 of the grid, as pixel u has of the screen
    back = np.array(
        [[per_x, 0.0, 0.5 * per_x + off_x - 0.5], [0.0, per_y, 0.5 * per_y + off_y - 0.5]]
    )
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return cv2.warpAffine(screen, back, grid.size_px, flags=flags, borderMode=cv2.BORDER_REPLICATE)


def visible(place: Place, grid: Grid, window: Array) -> tuple[slice, slice]:
    """Rows and columns of the grid that fall inside `window` (x0, y0, x1, y1 on screen)."""
    xs, ys = grid.centres()
    px, py = place.ax * xs + place.tx, place.ay * ys + place.ty
    cols = np.flatnonzero((px >= window[0]) & (px <= window[2]))
    rows = np.flatnonzero((py >= window[1]) & (py <= window[3]))
    if not len(cols) or not len(rows):
        return slice(0, 0), slice(0, 0)
    return slice(int(rows[0]), int(rows[-1]) + 1), slice(int(cols[0]), int(cols[-1]) + 1)
