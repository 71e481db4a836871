"""One screen against the whole clip at a known place: which frames it may show, and is it there."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from studio.model.arrays import Array
from studio.playhead.align import corners_of, offset, slope_points
from studio.playhead.geometry import Place, sample, visible
from studio.playhead.library import Cells, Library, halve, softened
from studio.playhead.tone import Tone

TRUNCATE = 40
"""Levels beyond which a difference counts no more: a drawing is as far off from every frame."""
COARSE_CELLS = 5000
"""Moving cells of the half grid compared with every frame of the clip."""
DIPS, REACH = 10, 3
"""Candidates: so many best dips of the coarse costs, with so many frames either side."""
BLOCK = 20
"""Side of the blocks, half-grid cells, whose correlation tells whether the clip is there."""
BLOCKS = 20
"""Where fewer blocks than this show, as of a small clip zoomed far, they are made half as wide."""
BLOCK_LIKE = 0.6
"""Correlation from which a block agrees; one in hundreds of other pictures reaches it."""
PLAIN = 5.0
"""Blocks with less contrast than this (standard deviation, levels) tell nothing."""
COVER_CELL = 8
"""Side, fine cells, of the cells in which drawings are noted."""
COVER_LEVELS = 45
"""A covered cell differs this much from the clip."""


@dataclass(frozen=True, slots=True)
class Sight:
    """What one screen shows of the clip at one place.

    Attributes:
        place: Where it was looked for.
        frames: (K,) int32 rising, candidate frames of the clip.
        cost: (K,) float32, truncated mean square difference in moving cells, levels squared.
        noise: The same for the best frame, without the cells that something covers.
        soft_cost: As `cost`, of softened pictures.
        soft_noise: As `noise`, of softened pictures.
        cells: How many moving cells show.
        agree: Share of the visible blocks with contrast that correlate with the best frame, 0-1.
        blocks: How many such blocks there are.
        shift: (4,) how far the picture lies from `place`, for `Place.corrected`; None unknown.
        drift_px: The same at the picture's corners, screen pixels.
        cover: (h, w) bool, cells of `COVER_CELL` fine cells that something else covers.
        raw: (h, w) uint8, the view before tone mapping.
        shown: Rows and columns of the grid that show the clip.
    """

    place: Place
    frames: Array
    cost: Array
    noise: float
    soft_cost: Array
    soft_noise: float
    cells: int
    agree: float
    blocks: int
    shift: Array | None
    drift_px: float
    cover: Array
    raw: Array
    shown: tuple[slice, slice]

    def lesson(self, library: Library) -> tuple[Array, Array]:
        """What shows of the clip before tone mapping, and the same of the best frame."""
        return self.raw[self.shown], library.frames[self.best()][self.shown]

    def best(self) -> int:
        """The candidate of least cost."""
        return int(self.frames[int(np.argmin(self.cost))])


class Comparer:
    """Compares screens with the clip; keeps what depends on the place alone."""

    def __init__(self, library: Library) -> None:
        self.library = library
        self._coarse = _thin(library.coarse)
        self._cells: tuple[tuple[slice, slice], Cells, Cells, Cells] | None = None
        self._points: dict[tuple[int, int, int, int, int], Array] = {}
        self._corners = corners_of(library.grid)

    def look(
        self, screen: Array, shrink: float, place: Place, tone: Tone, window: Array
    ) -> Sight | None:
        """Compare what shows within `window`; None when too little shows to tell."""
        library = self.library
        rows, cols = visible(place, library.grid, window)
        if rows.stop - rows.start < 2 * BLOCK or cols.stop - cols.start < 2 * BLOCK:
            return None
        raw = sample(screen, shrink, place, library.grid)
        view = tone.apply(raw)
        half = halve(view)
        coarse, fine, soft = self._visible_cells(rows, cols)
        if len(coarse.where) < 50 or len(fine.where) < 100:
            return None
        every = costs(coarse.rows, half.ravel()[coarse.where])
        frames = candidates(every)
        seen = view.ravel()[fine.where]
        cost = costs(fine.rows[frames], seen)
        best = int(frames[int(np.argmin(cost))])
        agree, blocks = likeness(half, library.halved(best), _halved(rows), _halved(cols))
        shift = self._shift(view, best, rows, cols)
        drift = np.inf
        if shift is not None:
            drift = place.apart(place.corrected(shift), self._corners)
        cover = covered(view, library.frames[best], rows, cols)
        noise = noise_of(fine.rows[best], seen)
        shown = (rows, cols)
        smooth = softened(view).ravel()[soft.where]
        soft_cost = costs(soft.rows[frames], smooth)
        soft_noise = noise_of(soft.rows[frames[int(np.argmin(soft_cost))]], smooth)
        return Sight(
            place,
            frames,
            cost,
            noise,
            soft_cost,
            soft_noise,
            len(seen),
            agree,
            blocks,
            shift,
            drift,
            cover,
            raw,
            shown,
        )

    def _visible_cells(self, rows: slice, cols: slice) -> tuple[Cells, Cells, Cells]:
        key = (rows, cols)
        if self._cells is None or self._cells[0] != key:
            coarse = _within(
                self._coarse, self.library.half.size_px[0], _halved(rows), _halved(cols)
            )
            width = self.library.grid.size_px[0]
            fine = _within(self.library.fine, width, rows, cols)
            soft = _within(self.library.soft, width, rows, cols)
            self._cells = (key, coarse, fine, soft)
        return self._cells[1:]

    def _shift(self, view: Array, best: int, rows: slice, cols: slice) -> Array | None:
        key = (best, rows.start, rows.stop, cols.start, cols.stop)
        if key not in self._points:
            if len(self._points) > 400:
                self._points.clear()
            self._points[key] = slope_points(self.library.frames[best], rows, cols, 2000)
        return offset(view, self.library.frames[best], self.library.grid, self._points[key])


def costs(rows: Array, seen: Array) -> Array:
    """Truncated mean square difference of (n, D) uint8 rows from (D,) uint8; (n,) float32."""
    apart = cv2.absdiff(rows, np.broadcast_to(seen, rows.shape).copy())
    near = np.minimum(apart, TRUNCATE).astype(np.float32)
    total: Array = np.einsum("ij,ij->i", near, near) / np.float32(rows.shape[1])
    return total


def noise_of(row: Array, seen: Array) -> float:
    """Mean square difference of (D,) uint8 cells, those as far off as a drawing left out."""
    apart = cv2.absdiff(row, seen).ravel()
    near = apart[apart < TRUNCATE].astype(np.float32)
    return float(near @ near) / max(len(near), 1)


def candidates(every: Array) -> Array:
    """The frames worth a closer look: the deepest dips of the costs, and their neighbours."""
    left = np.concatenate([[np.inf], every[:-1]])
    right = np.concatenate([every[1:], [np.inf]])
    dips = np.flatnonzero((every <= left) & (every <= right))
    dips = dips[np.argsort(every[dips], kind="stable")][:DIPS]
    near = (dips[:, None] + np.arange(-REACH, REACH + 1)).ravel()
    frames: Array = np.unique(np.clip(near, 0, len(every) - 1)).astype(np.int32)
    return frames


def likeness(view: Array, template: Array, rows: slice, cols: slice) -> tuple[float, int]:
    """Share of blocks that correlate, and how many blocks have contrast enough to tell."""
    height, width = rows.stop - rows.start, cols.stop - cols.start
    side = BLOCK if (height // BLOCK) * (width // BLOCK) >= BLOCKS else BLOCK // 2
    if height < side or width < side:
        return 0.0, 0
    a = _blocks(view[rows, cols], side)
    b = _blocks(template[rows, cols], side)
    a -= a.mean(axis=1, keepdims=True)
    b -= b.mean(axis=1, keepdims=True)
    va, vb = (a * a).mean(axis=1), (b * b).mean(axis=1)
    telling = vb > PLAIN**2
    if not telling.any():
        return 0.0, 0
    like = (a * b).mean(axis=1) / np.sqrt(va * vb + 1.0)
    return float((like[telling] > BLOCK_LIKE).mean()), int(telling.sum())


def covered(view: Array, template: Array, rows: slice, cols: slice) -> Array:
    """Cells of `COVER_CELL` x `COVER_CELL` in which a fifth or more differs strongly."""
    apart = cv2.absdiff(view, template)
    _, strong = cv2.threshold(apart, COVER_LEVELS, 255, cv2.THRESH_BINARY)
    shut = np.zeros_like(strong)
    shut[rows, cols] = strong[rows, cols]
    h, w = view.shape
    small = cv2.resize(shut, (w // COVER_CELL, h // COVER_CELL), interpolation=cv2.INTER_AREA)
    found: Array = small > 51
    return found


def _blocks(image: Array, side: int) -> Array:
    """(n, side * side) float32, the whole blocks of an image."""
    h, w = image.shape[0] // side, image.shape[1] // side
    cut = image[: h * side, : w * side].reshape(h, side, w, side).transpose(0, 2, 1, 3)
    return cut.reshape(-1, side * side).astype(np.float32)


def _halved(part: slice) -> slice:
    return slice((part.start + 1) // 2, part.stop // 2)


def _thin(cells: Cells) -> Cells:
    step = max(1, len(cells.where) // COARSE_CELLS)
    return Cells(cells.where[::step], np.ascontiguousarray(cells.rows[:, ::step]))


def _within(cells: Cells, width: int, rows: slice, cols: slice) -> Cells:
    row, col = cells.where // width, cells.where % width
    keep = (row >= rows.start) & (row < rows.stop) & (col >= cols.start) & (col < cols.stop)
    if keep.all():
        return cells
    return Cells(cells.where[keep], np.ascontiguousarray(cells.rows[:, keep]))
