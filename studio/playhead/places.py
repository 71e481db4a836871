"""The places made exact, and the part of the screen in which each shows the clip."""

from __future__ import annotations

import numpy as np

from studio.model.arrays import Array
from studio.playhead.geometry import Grid, Place, overlap
from studio.playhead.watch import Rows


def settled_places(rows: Rows) -> list[Place]:
    """Every place corrected by the median of what its pictures still showed of an offset."""
    at = np.array(rows.place)
    shifts = np.stack(rows.shift) if len(rows.shift) else np.empty((0, 4))
    order = np.argsort(at, kind="stable")
    found = []
    for index, place in enumerate(rows.places):
        lo, hi = np.searchsorted(at[order], (index, index + 1))
        mine = shifts[order[lo:hi]]
        mine = mine[~np.isnan(mine).any(axis=1)]
        found.append(place.corrected(np.median(mine, axis=0)) if len(mine) else place)
    return found


def windows(places: list[Place], rows: Rows, grid: Grid) -> Array:
    """(M, 4) x0, y0, x1, y1 on screen in which the clip shows: its box, cut by its window."""
    return np.stack(
        [overlap(p.box(*grid.clip_px), w) for p, w in zip(places, rows.windows, strict=True)]
    )
