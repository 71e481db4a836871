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
        self._cues = plan.overlays
        self._table = table
        self._rate = float(plan.frame_rate)
        count = len(table.clip_s)
        self._up: list[list[int]] = [[] for _ in range(count)]
        for index, cue in enumerate(plan.overlays):
            first = max(0, int(np.ceil(cue.start_s * self._rate - 1e-6)))
            for frame in range(first, min(count, int(np.ceil(cue.end_s * self._rate - 1e-6)))):
                self._up[frame].append(index)

    def at(self, frame: int) -> Look:
        """The look of program frame `frame`."""
        table = self._table
        there = table.affine[frame] >= 0
        now_s = frame / self._rate
        active = [self._active(i, self._cues[i], now_s) for i in self._up[frame]]
        return Look(
            clip_us=round(table.clip_s[frame] * 1e6) if there else -1,
            affine=int(table.affine[frame]),
            presence=round(table.presence[frame] * STEPS),
            thin=round(table.thin[frame] * STEPS),
            drawn=table.drawn[frame],
            covered=table.covered[frame],
            active=tuple(a for a in active if a.opacity),
        )

    def _active(self, index: int, cue: OverlayCue, now_s: float) -> Active:
        # half a frame in, so that the first frame of a stay is not quite empty
        at = now_s + 0.5 / self._rate
        opacity = motion.fade(at, cue.start_s, cue.end_s)
        opening = motion.sweep(at, cue.start_s) if cue.kind == "angle_fan" else 1.0
        return Active(index, round(opacity * STEPS), round(opening * STEPS))
