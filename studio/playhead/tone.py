"""The brightness map from the recording's screen to the clip, learned as the recording goes."""

from __future__ import annotations

import cv2
import numpy as np

from studio.model.arrays import Array

BINS = 32
MEMORY = 0.9
"""Weight of what was learned before at each update: about ten pictures back."""
OUTLIER, LEAST_OUT = 3.0, 10.0
"""Cells further off than so many standard deviations, or so many levels, are an inset, a drawing or
another frame and teach nothing. A fixed wide limit would let what lies half way within it drag the
map along, picture after picture."""
ENOUGH = 40
"""Cells a bin needs before it is believed."""


class Tone:
    """Maps screen levels to clip levels."""

    def __init__(self) -> None:
        self._weight = np.zeros(BINS)
        self._from = np.zeros(BINS)
        self._to = np.zeros(BINS)
        self.table: Array = np.arange(256, dtype=np.uint8)

    def apply(self, view: Array) -> Array:
        """A screen view in the clip's levels, (h, w) uint8."""
        return cv2.LUT(view, self.table)

    def learn(self, view: Array, template: Array, *, fresh: bool = False) -> None:
        """Learn from a raw view and the clip frame it shows, both (h, w) uint8.

        Args:
            view: The screen, not yet mapped.
            template: The clip frame.
            fresh: Forget what was learned before (a new window, a changed screen).
        """
        v = view.ravel()[::5].astype(np.float64)
        t = template.ravel()[::5].astype(np.float64)
        if len(v) < 100:
            return
        if fresh:
            self._weight[:], self._from[:], self._to[:] = 0, 0, 0
            gain, lift = _line(v, t)
            mapped = gain * v + lift
        else:
            mapped = self.table[v.astype(np.uint8)].astype(np.float64)
        off = np.abs(mapped - t)
        fair = off < max(OUTLIER * 1.4826 * float(np.median(off)), LEAST_OUT)
        if fair.sum() < 100:
            return
        v, t = v[fair], t[fair]
        where = (v * BINS / 256).astype(int)
        for total, values in ((self._weight, None), (self._from, v), (self._to, t)):
            total *= MEMORY
            total += np.bincount(where, values, BINS)
        self.table = self._table()

    def _table(self) -> Array:
        known = self._weight > ENOUGH
        if known.sum() < 2:
            return self.table
        x = self._from[known] / self._weight[known]
        y = np.maximum.accumulate(self._to[known] / self._weight[known])
        levels = np.arange(256.0)
        table = np.interp(levels, x, y)
        table[levels < x[0]] = y[0] - (x[0] - levels[levels < x[0]])
        table[levels > x[-1]] = y[-1] + (levels[levels > x[-1]] - x[-1])
        return np.clip(np.rint(table), 0, 255).astype(np.uint8)


def _line(v: Array, t: Array) -> tuple[float, float]:
    """Robust gain and lift: trimmed least squares, from matching quartiles on."""
    lo_v, hi_v = np.quantile(v, (0.2, 0.8))
    lo_t, hi_t = np.quantile(t, (0.2, 0.8))
    gain = float((hi_t - lo_t) / max(hi_v - lo_v, 1.0))
    gain = min(max(gain, 0.4), 2.5)
    lift = float(lo_t - gain * lo_v)
    for _ in range(5):
        off = np.abs(gain * v + lift - t)
        keep = off <= np.quantile(off, 0.7)
        spread = float(v[keep].var())
        if spread < 1:
            break
        slope = float(np.cov(v[keep], t[keep])[0, 1]) / spread
        gain = min(max(slope, 0.4), 2.5)
        lift = float(t[keep].mean() - gain * v[keep].mean())
    return gain, lift
