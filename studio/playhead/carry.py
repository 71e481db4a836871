"""Where a picture went from one screen to the next: points followed through a zoom or a pan.

A zoom animation moves the picture by a tenth of its width between two frames, further than fine
alignment can reach and too often for a search from scratch. Corners of the picture (Shi and Tomasi
1994) followed through an image pyramid (Bouguet 2001) tell the move well enough to align from.
"""

from __future__ import annotations

import cv2
import numpy as np

from studio.model.arrays import Array
from studio.playhead.geometry import Place

POINTS = 400
FEWEST = 12
"""Points that must agree on a move."""
ROUND_TRIP_PX = 1.0
"""A point followed forth and back must come back to within this."""
AGREE_PX = 2.0
TRIES = 200


def carried(before: Array, after: Array, shrink: float, place: Place, box: Array) -> Place | None:
    """`place` moved as the picture inside `box` moved from one screen to the next.

    Args:
        before: (H, W) uint8, the screen on which the clip stood at `place`, reduced by `shrink`.
        after: The other screen.
        shrink: Screen pixels per pixel of both.
        place: Where the clip stood.
        box: (4,) x0, y0, x1, y1 on screen, the part that shows the clip.

    Returns:
        The new place; None where too few points agree on one scale and one shift.
    """
    mask = np.zeros_like(before)
    x0, y0, x1, y1 = np.rint(box / shrink).astype(int).clip(0)
    mask[y0:y1, x0:x1] = 255
    start: Array | None = cv2.goodFeaturesToTrack(before, POINTS, 0.01, 7, mask=mask)
    if start is None or len(start) < FEWEST:
        return None
    there, found, _ = _follow(before, after, start)
    back, again, _ = _follow(after, before, there)
    kept = (found & again).ravel().astype(bool)
    kept &= np.hypot(*(back - start).reshape(-1, 2).T) < ROUND_TRIP_PX
    move = _vote(start.reshape(-1, 2)[kept], there.reshape(-1, 2)[kept])
    if move is None:
        return None
    scale, (dx, dy) = move
    # a point u of a reduced screen lies at (u + 0.5) * shrink of the screen
    dx, dy = (np.array([dx, dy]) + 0.5 - 0.5 * scale) * shrink
    return Place(place.ax * scale, place.ay * scale, place.tx * scale + dx, place.ty * scale + dy)


def _follow(before: Array, after: Array, points: Array) -> tuple[Array, Array, Array]:
    return cv2.calcOpticalFlowPyrLK(  # type: ignore[call-overload,no-any-return]
        before, after, points, None, winSize=(21, 21), maxLevel=5
    )


def _vote(a: Array, b: Array) -> tuple[float, Array] | None:
    """The scale and shift, b = scale a + shift, that most points agree on; (n, 2) each."""
    if len(a) < FEWEST:
        return None
    rng = np.random.default_rng(5)  # the same screens always give the same answer
    i, j = rng.integers(0, len(a), (2, TRIES))
    across = np.hypot(*(a[i] - a[j]).T)
    i, j = i[across > 20], j[across > 20]
    if not len(i):
        return None
    scale = np.hypot(*(b[i] - b[j]).T) / np.hypot(*(a[i] - a[j]).T)
    shift = b[i] - scale[:, None] * a[i]
    off = np.abs(scale[:, None, None] * a[None] + shift[:, None] - b[None]).max(axis=2)
    agree = off[int(np.argmax((off < AGREE_PX).sum(axis=1)))] < AGREE_PX
    if agree.sum() < FEWEST:
        return None
    am, bm = a[agree].mean(axis=0), b[agree].mean(axis=0)
    spread = float(((a[agree] - am) ** 2).sum())
    if spread < 1:
        return None
    best = float(((a[agree] - am) * (b[agree] - bm)).sum()) / spread
    return best, bm - best * am
