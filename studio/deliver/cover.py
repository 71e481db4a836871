"""During a hold the clip's own picture lies exactly over the screen's copy of it.

What the coach has on top (a drawn line, the mouse) stays on top: where the recording differs
clearly from the clip, the recording is kept.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np

from studio.deliver.onscreen import CENTRE, OnScreen, ramp, scale_of
from studio.deliver.planes import Coding, Planes, coding_of, planes_of, recoded
from studio.deliver.source import Reader
from studio.model.arrays import Array
from studio.model.media import MediaFile
from studio.model.plan import EditPlan

DIFFERS_C = 22
"""A chroma sample this far from the clip's is the coach's: twice what strong compression does."""
DIFFERS_Y = 70
"""The same for brightness, where edges differ with every scaling."""
CELL = 2
"""What is on top is looked for in cells of 2 x 2 chroma pixels (4 x 4 luma)."""
SPREAD = 3
"""Side, in cells, by which a kept area is widened: lines keep their soft edges."""
STEPS = (2 * CELL, CELL, CELL)
"""Pixels of Y, U and V to a cell."""
WEAK_C, WEAK_Y = 9, 24
"""The same for parts joined to a clear difference."""
WINDOW_SHARE, STRONG_SHARE = 0.004, 0.25
"""A window is at least this share of the clip's picture, and this share of it differs clearly."""
LOOK_AGAIN = 15
"""Frames between two looks for windows: they come and go seldom."""
Box = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A clip frame as it lies on the screen: planes, and the even box it fills."""

    planes: Planes
    box: tuple[int, int, int, int]


class Covers:
    """The clip's own pictures for all holds of a plan, made in one pass over the clip."""

    def __init__(
        self,
        plan: EditPlan,
        table: OnScreen,
        clip: tuple[Path, MediaFile] | None,
        coding: Coding,
    ) -> None:
        count = len(table.clip_s)
        self._key: list[tuple[float, int] | None] = [None] * count
        strength = np.zeros(count, bool)
        for hold in plan.holds:
            first = round(hold.program_start_s * plan.frame_rate)
            last = first + round(hold.duration_s * plan.frame_rate)
            for frame in range(first, last):
                placed = int(table.affine[frame])
                # only over the very moment: a frame stepped to meanwhile is shown as it is
                same = abs(table.clip_s[frame] - hold.clip_s) < 0.02 if placed >= 0 else False
                if placed >= 0 and (same or hold.inserted):
                    self._key[frame] = (round(hold.clip_s, 4), placed)
                    strength[frame] = True
        self._strength = ramp(strength, float(plan.frame_rate))
        wanted = {key for key in self._key if key is not None}
        self._windows: dict[tuple[float, int], list[Box]] = {}
        self._sheets = _sheets(wanted, table, clip, plan, coding) if clip and wanted else {}

    def covers(self, frame: int) -> bool:
        """Whether a program frame is covered."""
        key = self._key[frame]
        return key is not None and key in self._sheets and self._strength[frame] > 0

    def lay(self, frame: int, planes: Planes) -> None:
        """Lay the clip's picture over a program frame, in place."""
        key = self._key[frame]
        if key is None or key not in self._sheets:
            return
        sheet = self._sheets[key]
        x0, y0, x1, y1 = sheet.box
        halves = (slice(y0 // 2, y1 // 2), slice(x0 // 2, x1 // 2))
        areas = [planes[0][y0:y1, x0:x1], planes[1][halves], planes[2][halves]]
        if key not in self._windows or frame % LOOK_AGAIN == 0:
            self._windows[key] = _windows(areas, sheet.planes)
        kept = _kept(areas, sheet.planes, self._windows[key])
        parts = [area[kept.part(n)] for area, n in zip(areas, STEPS, strict=True)] if kept else []
        saved = [part.copy() for part in parts]
        share = float(self._strength[frame])
        for area, own in zip(areas, sheet.planes, strict=True):
            if share >= 1:
                np.copyto(area, own)
            else:
                cv2.addWeighted(own, share, area, 1 - share, 0, dst=area)
        for part, old, n in zip(parts, saved, STEPS, strict=False):
            assert kept is not None
            height, width = part.shape
            mask = np.repeat(np.repeat(kept.mask, n, 0), n, 1)[:height, :width]
            np.copyto(part, old, where=mask)


@dataclass(frozen=True, slots=True)
class Kept:
    """What the coach has on top of the clip: a boolean mask over some rows and columns of cells."""

    rows: slice
    columns: slice
    mask: Array

    def part(self, n: int) -> tuple[slice, slice]:
        """The same stretch of a plane with `n` pixels to a cell."""
        return (
            slice(self.rows.start * n, self.rows.stop * n),
            slice(self.columns.start * n, self.columns.stop * n),
        )


def _kept(areas: list[Array], own: Planes, windows: list[Box]) -> Kept | None:
    """Where the recording differs clearly from the clip, and the windows; None = nowhere."""
    mask = _far(areas, own, DIFFERS_Y, DIFFERS_C)
    # a single cell is noise: what is on top has a neighbour
    company = cv2.boxFilter(mask, -1, (3, 3), normalize=False)
    lines = ((mask > 0) & (company > 1)).astype(np.uint8)
    for x0, y0, x1, y1 in windows:
        lines[y0:y1, x0:x1] = 1
    x, y, width, height = cv2.boundingRect(lines)
    if not width:
        return None
    rows = slice(max(0, y - SPREAD), min(mask.shape[0], y + height + SPREAD))
    columns = slice(max(0, x - SPREAD), min(mask.shape[1], x + width + SPREAD))
    wide = cv2.dilate(lines[rows, columns], np.ones((SPREAD, SPREAD), np.uint8))
    # what is on top is whole: where it happens to look like the clip there must be no holes in it
    outlines, _ = cv2.findContours(wide, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    for outline in outlines:
        cv2.fillConvexPoly(wide, cv2.convexHull(outline), (1,))
    return Kept(rows, columns, wide > 0)


def _windows(areas: list[Array], own: Planes) -> list[Box]:
    """Boxes, in cells, of what lies over the clip as a window does: a camera, a panel.

    A window's parts may look like the clip below them, so weaker differences count where they are
    joined to strong ones, and the whole box is taken.
    """
    strong = _far(areas, own, DIFFERS_Y, DIFFERS_C)
    weak = cv2.max(strong, _far(areas, own, WEAK_Y, WEAK_C))
    joined = cv2.morphologyEx(weak, cv2.MORPH_CLOSE, np.ones((SPREAD, SPREAD), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined)
    least = WINDOW_SHARE * joined.size
    found = []
    for number in range(1, count):
        x, y, width, height, area = (int(v) for v in stats[number])
        inside = strong[y : y + height, x : x + width]
        own_part = labels[y : y + height, x : x + width] == number
        if area > least and inside[own_part].mean() > STRONG_SHARE:
            found.append((x, y, x + width, y + height))
    return found


def _far(areas: list[Array], own: Planes, light_least: int, colour_least: int) -> Array:
    """(rows, columns) uint8 of cells, 1 where brightness or colour differ by more than given."""
    step = 2 * CELL
    light = cv2.absdiff(areas[0][::step], own[0][::step])[:, ::step]
    blue, red = (cv2.absdiff(areas[i][::CELL], own[i][::CELL]) for i in (1, 2))
    colour = cv2.max(blue, red)[:, ::CELL]
    height, width = colour.shape
    light = light[:height, :width]
    return ((light > light_least) | (colour > colour_least)).astype(np.uint8)


def _sheets(
    wanted: set[tuple[float, int]],
    table: OnScreen,
    clip: tuple[Path, MediaFile],
    plan: EditPlan,
    coding: Coding,
) -> dict[tuple[float, int], Sheet]:
    """One pass over the clip; planes are warped as they are, with no way through RGB."""
    path, media = clip
    assert media.video is not None
    reader = Reader(path, media, (media.video.width_px, media.video.height_px))
    made = {}
    for clip_s, placement in sorted(wanted):
        # a time on the edge between two frames is the later one's
        frame = reader.at(Fraction(clip_s) + Fraction(1, 1000))
        planes = recoded(planes_of(frame), coding_of(frame), coding)
        size = (plan.width_px, plan.height_px)
        made[clip_s, placement] = _sheet(planes, table, placement, size)
    reader.close()
    return made


def _sheet(planes: Planes, table: OnScreen, placement: int, size: tuple[int, int]) -> Sheet:
    x0, y0, x1, y1 = table.seen_px[placement]
    left, top = _even(max(0.0, x0), up=True), _even(max(0.0, y0), up=True)
    right = _even(min(float(size[0]), x1), up=False)
    bottom = _even(min(float(size[1]), y1), up=False)
    affine = table.affines[placement].copy()
    affine[:, 2] -= (left, top)
    half = affine.copy()
    half[:, 2] /= 2  # chroma: both pictures at half size
    width, height = right - left, bottom - top
    y, u, v = (
        _warped(plane, matrix, (width // n, height // n))
        for plane, matrix, n in zip(planes, (affine, half, half), (1, 2, 2), strict=True)
    )
    return Sheet((y, u, v), (left, top, right, bottom))


def _warped(plane: Array, affine: Array, size: tuple[int, int]) -> Array:
    """A plane through an affine map of corner-based pixels."""
    affine = affine.copy()
    shrink = scale_of(affine)
    if shrink < 0.6:  # bilinear sampling would skip pixels: average down first
        small = (round(plane.shape[1] * shrink), round(plane.shape[0] * shrink))
        affine[:, :2] *= np.array([plane.shape[1] / small[0], plane.shape[0] / small[1]])
        plane = np.asarray(cv2.resize(plane, small, interpolation=cv2.INTER_AREA))
    affine[:, 2] += affine[:, :2] @ (CENTRE, CENTRE) - CENTRE
    edge = cv2.BORDER_REPLICATE
    return np.asarray(cv2.warpAffine(plane, affine, size, flags=cv2.INTER_LINEAR, borderMode=edge))


def _even(value: float, *, up: bool) -> int:
    whole = int(np.ceil(value / 2) if up else np.floor(value / 2))
    return 2 * whole
