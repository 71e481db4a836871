"""What is drawn on each program frame, as a small value: equal looks are drawn once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from overlays import motion
from studio.deliver.onscreen import OnScreen
from studio.model.plan import EditPlan, OverlayCue

STEPS = 16
"""Opacity and sweep go in sixteenths: finer is not seen, and equal looks are not drawn again."""


@dataclass(frozen=True, slots=True)
class Active:
    """One overlay on one frame: which cue, how opaque and how far open (sixteenths)."""

    cue: int
    opacity: int
    sweep: int


@dataclass(frozen=True, slots=True)
class Look:
    """Everything the drawing of a frame depends on besides the picture itself.

    Attributes:
        clip_us: Clip time in microseconds; -1 = the clip is not on screen.
        affine: Index of the placement; -1 = none.
        presence: Sixteenths.
        thin: Sixteenths, how far the coach's own drawing takes over.
        drawn: Indices of the drawn areas that are up.
        covered: The same of areas that lastingly cover the picture.
        active: The overlays that are up.
    """

    clip_us: int
    affine: int
    presence: int
    thin: int
    drawn: tuple[int, ...]
    covered: tuple[int, ...]
    active: tuple[Active, ...]


class Looks:
    """The look of every program frame."""

    def __init__(self, plan: EditPlan, table: OnScreen) -> None:
        rate = float(plan.frame_rate)
        count = len(table.clip_s)
        there = table.affine >= 0
        self._clip_us = np.where(there, np.rint(table.clip_s * 1e6), -1).astype(np.int64).tolist()
        self._affine = table.affine.tolist()
        self._presence = np.rint(table.presence * STEPS).astype(int).tolist()
        self._thin = np.rint(table.thin * STEPS).astype(int).tolist()
        self._drawn, self._covered = table.drawn, table.covered
        self._up: list[tuple[Active, ...]] = [()] * count
        for index, cue in enumerate(plan.overlays):
            first = max(0, int(np.ceil(cue.start_s * rate - 1e-6)))
            for frame in range(first, min(count, int(np.ceil(cue.end_s * rate - 1e-6)))):
                active = _active(index, cue, frame / rate, rate)
                if active.opacity:
                    self._up[frame] += (active,)

    def at(self, frame: int) -> Look:
        """The look of program frame `frame`."""
        return Look(
            clip_us=self._clip_us[frame],
            affine=self._affine[frame],
            presence=self._presence[frame],
            thin=self._thin[frame],
            drawn=self._drawn[frame],
            covered=self._covered[frame],
            active=self._up[frame],
        )


def _active(index: int, cue: OverlayCue, now_s: float, rate: float) -> Active:
    # half a frame in, so that the first frame of a stay is not quite empty
    at = now_s + 0.5 / rate
    opacity = motion.fade(at, cue.start_s, cue.end_s)
    opening = motion.sweep(at, cue.start_s) if cue.kind == "angle_fan" else 1.0
    return Active(index, round(opacity * STEPS), round(opening * STEPS))
