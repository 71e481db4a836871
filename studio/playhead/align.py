"""Fine alignment: where exactly a frame of the clip stands, from the picture's own slopes.

Gauss-Newton on scale and shift along each axis with gain and offset of brightness (the inverse
compositional form of Lucas-Kanade: Baker and Matthews 2004, "Lucas-Kanade 20 years on"), with
Tukey's biweight so that drawings, a cursor or an inset do not count.
"""

from __future__ import annotations

import itertools

import cv2
import numpy as np

from studio.model.arrays import Array
from studio.playhead.geometry import Grid, Place, sample, visible

TUKEY = 4.685
"""Tukey's biweight constant: 95 % efficient for Gaussian noise (Holland and Welsch 1977)."""
POINTS = 6000
"""Cells used for one alignment."""


def slope_points(template: Array, rows: slice, cols: slice, points: int = POINTS) -> Array:
    """Flat indices of the steepest cells of `template` within rows and columns, spread evenly.

    Every cell of a 12 x 8 raster gives its steepest, so that one busy corner does not rule.
    """
    h, w = template.shape
    gx = cv2.Sobel(template, cv2.CV_16S, 1, 0, ksize=3)
    gy = cv2.Sobel(template, cv2.CV_16S, 0, 1, ksize=3)
    steep = np.maximum(np.abs(gx), np.abs(gy))
    r0, r1 = max(rows.start, 2), min(rows.stop, h - 2)
    c0, c1 = max(cols.start, 2), min(cols.stop, w - 2)
    found = []
    row_edges = np.linspace(r0, r1, 9).astype(int)
    col_edges = np.linspace(c0, c1, 13).astype(int)
    each = max(8, points // 96)
    for top, bottom in itertools.pairwise(row_edges):
        for left, right in itertools.pairwise(col_edges):
            block = steep[top:bottom, left:right]
            if block.size == 0:
                continue
            flat = block.ravel()
            keep = min(each, len(flat))
            best = np.argpartition(flat, len(flat) - keep)[len(flat) - keep :]
            best = best[flat[best] > 24]
            found.append((best // block.shape[1] + top) * w + best % block.shape[1] + left)
    return np.concatenate(found) if found else np.empty(0, np.int64)


def offset(view: Array, template: Array, grid: Grid, where: Array) -> Array | None:
    """How far what `view` shows lies from `template`, to first order.

    Args:
        view: (h, w) uint8, the screen brought onto the grid.
        template: (h, w) uint8, the clip frame it should show.
        grid: Their grid.
        where: (n,) flat indices of the cells to use.

    Returns:
        (4,) gx, bx, gy, by in clip pixels for `Place.corrected`; None when undetermined.
    """
    if len(where) < 60:
        return None
    w = grid.size_px[0]
    sx, sy = grid.step()
    row, col = where // w, where % w
    flat = template.ravel()
    t = flat[where].astype(np.float32)
    gx = (flat[where + 1].astype(np.float32) - flat[where - 1]) / 2
    gy = (flat[where + w].astype(np.float32) - flat[where - w]) / 2
    x, y = (col + 0.5).astype(np.float32), (row + 0.5).astype(np.float32)
    mx, my = float(x.mean()), float(y.mean())
    scale = float(max(grid.size_px))
    # view(x) = gain * template(x + shift) + lift
    design = np.stack(
        [gx * (x - mx) / scale, gx, gy * (y - my) / scale, gy, t / 64, np.ones_like(t)], axis=1
    )
    solution = _robust_fit(design, view.ravel()[where].astype(np.float32), t)
    if solution is None:
        return None
    gain = 1 + float(solution[4]) / 64
    if not 0.3 < gain < 3:
        return None
    ax, bx, ay, by = solution[:4] / gain
    ax, ay = ax / scale, ay / scale
    return np.array([ax, (bx - ax * mx) * sx, ay, (by - ay * my) * sy])


def _robust_fit(design: Array, v: Array, t: Array) -> Array | None:
    """(6,) that brings `t` nearest to `v`, Tukey's biweight over four rounds; None = singular.

    Args:
        design: (n, 6) what each of the six does to a value.
        v: (n,) values wanted.
        t: (n,) values as they are.
    """
    residual = v - t
    solution = np.zeros(6)
    for _ in range(4):
        spread = 1.4826 * float(np.median(np.abs(residual - np.median(residual)))) + 0.5
        u = np.clip(residual / (TUKEY * spread), -1, 1)
        weight = (1 - u * u) ** 2
        weighted = design * weight[:, None]
        normal = weighted.T @ design
        # one scale for both axes unless the picture says otherwise: a ridge worth 0.2 % of stretch
        tie = 1e-6 * float(normal[0, 0] + normal[2, 2])
        normal[0, 0] += tie
        normal[2, 2] += tie
        normal[0, 2] -= tie
        normal[2, 0] -= tie
        normal[np.arange(6), np.arange(6)] += 1e-3
        try:
            solution = np.linalg.solve(normal, weighted.T @ (v - t))
        except np.linalg.LinAlgError:
            return None
        residual = v - t - design @ solution
    return solution


def refine(
    screen: Array, shrink: float, place: Place, template: Array, grid: Grid, window: Array,
    rounds: int = 6,
) -> tuple[Place, float] | None:  # fmt: skip
    """Move `place` until the clip frame fits the screen.

    Args:
        screen: (H, W) uint8, reduced by `shrink`.
        shrink: Screen pixels per pixel of `screen`.
        place: Where to begin, within about two cells.
        template: (h, w) uint8, the clip frame.
        grid: Its grid.
        window: x0, y0, x1, y1 on screen within which clip pixels may show.
        rounds: At most so many steps.

    Returns:
        The place and the last step's size in screen pixels at the picture's corners; None when
        the picture has too little slope or the steps run away.
    """
    corners = corners_of(grid)
    start, moved = place, np.inf
    for _ in range(rounds):
        where = slope_points(template, *visible(place, grid, window))
        view = sample(screen, shrink, place, grid)
        shift = offset(view, template, grid, where)
        if shift is None or abs(shift[0]) > 0.1 or abs(shift[2]) > 0.1:
            return None
        new = place.corrected(shift)
        moved, place = place.apart(new, corners), new
        if moved < 0.02 * shrink:
            break
    if start.apart(place, corners) > 0.25 * abs(start.ax) * grid.clip_px[0]:
        return None
    return place, moved


def corners_of(grid: Grid) -> Array:
    """(4, 2) the clip picture's corners, clip pixels."""
    w, h = grid.clip_px
    return np.array([[0, 0], [w, 0], [0, h], [w, h]], float)
