"""Where something else covers the clip's picture: the coach's drawing, or a lasting inset."""

from __future__ import annotations

import cv2
import numpy as np

from studio.model.arrays import Array
from studio.model.playhead import DrawnArea
from studio.playhead.compare import COVER_CELL
from studio.playhead.geometry import Grid, Place
from studio.playhead.watch import Rows

LASTS_S = 0.8
"""A drawing stays longer than a cursor passes or a frame is torn."""
LASTING = 0.8
"""Cells covered for this share of a place's time are an inset or a menu, not a drawing."""
FEWEST_CELLS = 3
"""Covered cells that make a drawing; a cursor covers one or two."""


def drawn_areas(
    rows: Rows, places: list[Place], grid: Grid, shape: tuple[int, int], end_s: float
) -> tuple[tuple[DrawnArea, ...], tuple[DrawnArea, ...]]:
    """Drawings, and lasting covers, each with its time and its box on the screen.

    Args:
        rows: What the pass noted.
        places: The settled places.
        grid: The fine grid.
        shape: (h, w) of the cover cells.
        end_s: End of the recording.
    """
    time_s, row_of = np.array(rows.time_s), np.array(rows.row_of_frame)
    first = np.searchsorted(row_of, np.arange(len(rows.place)))
    starts = time_s[first]
    ends = np.append(starts[1:], end_s)
    masks = [_mask(bits, shape) for bits in rows.cover]
    drawings: list[DrawnArea] = []
    lasting: list[DrawnArea] = []
    for stretch in _by_place(rows.place):
        place = places[rows.place[stretch[0]]]
        spans = ends[stretch] - starts[stretch]
        share = np.zeros(shape)
        for r, span in zip(stretch, spans, strict=True):
            if masks[r] is not None:
                share += masks[r] * span
        always = share > LASTING * spans.sum()
        if spans.sum() < 4 * LASTS_S:
            always &= False
        begin, stop = float(starts[stretch[0]]), float(ends[stretch[-1]])
        lasting += [
            DrawnArea(begin, stop, _on_screen(box, place, grid)) for box in _boxes(always, 8)
        ]
        around = cv2.dilate(always.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        drawings += _of_stretch(stretch, starts, ends, masks, around, place, grid)
    return tuple(drawings), tuple(lasting)


def _by_place(place: list[int]) -> list[Array]:
    """Unbroken stretches of rows at one place."""
    at = np.array(place)
    parts = np.split(np.arange(len(at)), np.flatnonzero(np.diff(at)) + 1)
    return [p for p in parts if len(p) and at[p[0]] >= 0]


def _mask(bits: bytes, shape: tuple[int, int]) -> Array | None:
    if not bits:
        return None
    flat = np.unpackbits(np.frombuffer(bits, np.uint8), count=shape[0] * shape[1])
    return flat.reshape(shape).astype(bool)


def _of_stretch(
    stretch: Array, starts: Array, ends: Array, masks: list[Array | None], around: Array,
    place: Place, grid: Grid,
) -> list[DrawnArea]:  # fmt: skip
    """Cells that stay covered long enough, joined into boxes while they overlap in time."""
    since = np.full(around.shape, np.nan)
    open_boxes: dict[tuple[int, int, int, int], float] = {}
    found: list[DrawnArea] = []
    for r in stretch:
        mask = masks[r]
        covered = np.zeros(around.shape, bool) if mask is None else mask & ~around
        since[covered & np.isnan(since)] = starts[r]
        since[~covered] = np.nan
        kept = covered & (ends[r] - since >= LASTS_S)
        boxes = _boxes(kept, FEWEST_CELLS)
        still: dict[tuple[int, int, int, int], float] = {}
        for box in boxes:
            y0, x0, y1, x1 = box
            first = float(np.nanmin(since[y0:y1, x0:x1]))
            joined = [b for b in open_boxes if _overlap(b, box)]
            for b in joined:
                first = min(first, open_boxes[b])
            still[box] = first
        for box, first in open_boxes.items():
            if not any(_overlap(box, b) for b in still):
                found.append(DrawnArea(first, float(starts[r]), _on_screen(box, place, grid)))
        open_boxes = still
    stop = float(ends[stretch[-1]])
    found += [DrawnArea(f, stop, _on_screen(b, place, grid)) for b, f in open_boxes.items()]
    return found


def _boxes(mask: Array, fewest: int) -> list[tuple[int, int, int, int]]:
    """Bounding boxes y0, x0, y1, x1 (exclusive) of connected cells, gaps of one cell bridged."""
    if not mask.any():
        return []
    joined = cv2.dilate(mask.astype(np.uint8), np.ones((3, 3), np.uint8))
    count, labels = cv2.connectedComponents(joined, connectivity=8)
    found = []
    for label in range(1, count):
        ys, xs = np.nonzero((labels == label) & mask)
        if len(ys) >= fewest:
            found.append((int(ys.min()), int(xs.min()), int(ys.max()) + 1, int(xs.max()) + 1))
    return found


def _overlap(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _on_screen(
    box: tuple[int, int, int, int], place: Place, grid: Grid
) -> tuple[float, float, float, float]:
    sx, sy = grid.step()
    y0, x0, y1, x1 = (v * COVER_CELL for v in box)
    xs = sorted((place.ax * x0 * sx + place.tx, place.ax * x1 * sx + place.tx))
    return (xs[0], place.ay * y0 * sy + place.ty, xs[1], place.ay * y1 * sy + place.ty)
