"""The frame being drawn: where the body is in it, and what must stay clear."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from overlays import Accent, Box, Circle, Point
from overlays.canvas import known
from studio.model.arrays import Array

CHAINS = (("shoulder", "hip", "knee", "ankle", "toe"), ("shoulder", "elbow", "wrist"))
LIMB_SHARES = (0.1, 0.37, 0.63, 0.9)
LIMB_RADIUS = 14.0
"""Kept clear around a limb's axis, design units (half of plate height)."""


@dataclass
class Scene:
    """One frame; everything in program pixels but `clip_s`."""

    clip_s: float
    affine: Array
    joints: dict[str, Point]
    seen: Box
    presence: float
    thin: float
    drawn: tuple[Box, ...]
    covered: tuple[Box, ...]
    keep_out: tuple[Box | Circle, ...] = ()

    def free_below(self) -> tuple[float, float]:
        """Left and right of the lowest fifth of the clip's picture that no window covers."""
        left, right = self.seen.left, self.seen.right
        for box in self.covered:
            low = box.bottom > self.seen.bottom - self.seen.height / 5
            if not low or box.right <= left or box.left >= right:
                continue
            if box.centre[0] < self.seen.centre[0]:
                left = max(left, box.right)
            else:
                right = min(right, box.left)
        return left, right


def limb_circles(joints: dict[str, Point], unit: float) -> list[Circle]:
    """Small circles along the limbs: plates keep off the body where they can."""
    found = []
    for chain in CHAINS:
        for first, second in pairwise(chain):
            (ax, ay), (bx, by) = joints[first], joints[second]
            if known((ax, ay), (bx, by)):
                found += [
                    Circle((ax + (bx - ax) * s, ay + (by - ay) * s), LIMB_RADIUS * unit)
                    for s in LIMB_SHARES
                ]
    return found


def accent_of(name: str) -> Accent:
    """The accent a cue names; neutral for none of them."""
    if name == "keep":
        return "keep"
    return "change" if name == "change" else "neutral"
