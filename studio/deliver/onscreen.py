"""The athlete on the program's screen: every joint in screen pixels, frame by frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studio.edit.screen import Screen, screen
from studio.model.arrays import Array
from studio.model.plan import EditPlan
from studio.model.playhead import DrawnArea, Playhead
from studio.model.technique import POINTS, BodyTrack, Technique

SURE = 0.35
"""Below this confidence of the playhead nothing is drawn: a missing mark misleads nobody."""
SEEN = 0.3
"""Below this score a joint is treated as not known (the pose backend's own threshold is 0.5; the
smoothed track is better than its weakest reading)."""
RAMP_S = 0.2
"""Marks come and go within this time at the edge of a stretch without the clip."""
CENTRE = 0.5
"""Overlays count from the centre of the top-left pixel, everything else from its corner."""


@dataclass(frozen=True, slots=True)
class OnScreen:
    """One row for every program frame.

    Attributes:
        clip_s: (N,) float64, clip time; NaN = the clip is not on screen.
        affine: (N,) int64, index into `affines`; -1 = not on screen.
        affines: (M, 2, 3) float64, clip to screen, corner-based pixels.
        seen_px: (M, 4) float64, where on the screen clip pixels are shown.
        presence: (N,) float64, 0-1, how strongly marks may show.
        thin: (N,) float64, 0-1, 1 where the coach is drawing.
        drawn: For every frame the indices of the playhead's drawn areas that are up.
        covered: The same for what lastingly covers the picture, such as a camera inset.
        scrub: (N,) bool, the coach is scrubbing: the clip time may lag.
    """

    clip_s: Array
    affine: Array
    affines: Array
    seen_px: Array
    presence: Array
    thin: Array
    drawn: tuple[tuple[int, ...], ...]
    covered: tuple[tuple[int, ...], ...]
    scrub: Array


def on_screen(
    plan: EditPlan,
    playhead: Playhead | None,
    technique: Technique | None,
    clip_size_px: tuple[int, int] | None,
) -> OnScreen:
    """Follow a plan; `clip_size_px` is the clip's displayed size (for the clip's own episode)."""
    factor = (technique.time_factor if technique else None) or 1.0
    table = screen(plan.shots, plan.frame_rate, playhead, factor)
    rate = float(plan.frame_rate)
    if playhead is None:
        return _own(plan, table, clip_size_px, rate)
    row = table.row
    affine = np.where((row >= 0) & ~np.isnan(table.clip_s), playhead.placement[row], -1)
    sure = (affine >= 0) & (playhead.confidence[row] >= SURE)
    time_s = playhead.recording_s[np.maximum(row, 0)]
    drawn = _up(playhead.drawn, time_s, row >= 0)
    return OnScreen(
        clip_s=table.clip_s,
        affine=affine.astype(np.int64),
        affines=playhead.clip_to_screen,
        seen_px=playhead.seen_px,
        presence=ramp(sure, rate),
        thin=1.0 - ramp(np.array([not areas for areas in drawn], bool), rate),
        drawn=drawn,
        covered=_up(playhead.covered, time_s, row >= 0),
        scrub=(row >= 0) & (playhead.state[row] == 3),
    )


def ramp(flags: Array, rate: float) -> Array:
    """0 outside, rising to 1 inside runs of True within `RAMP_S` of their edges.

    An edge at the very start or end of the program is none: there is nothing to come from.
    """
    count = len(flags)
    off = np.flatnonzero(~flags)
    if not len(off):
        return np.ones(count)
    after = np.searchsorted(off, np.arange(count))
    far = count + int(rate) + 1
    left = np.arange(count) - np.where(after > 0, off[np.maximum(after - 1, 0)], -far)
    right = np.where(after < len(off), off[np.minimum(after, len(off) - 1)], count + far)
    edge = np.minimum(left, right - np.arange(count))
    return np.asarray(np.clip(edge / max(1.0, RAMP_S * rate), 0, 1) * flags, np.float64)


def _own(
    plan: EditPlan, table: Screen, clip_size_px: tuple[int, int] | None, rate: float
) -> OnScreen:
    """The clip fills the picture (or there is no clip at all)."""
    count = len(table.clip_s)
    width, height = clip_size_px or (plan.width_px, plan.height_px)
    scale = [[plan.width_px / width, 0.0, 0.0], [0.0, plan.height_px / height, 0.0]]
    there = ~np.isnan(table.clip_s)
    return OnScreen(
        clip_s=table.clip_s,
        affine=np.where(there, 0, -1),
        affines=np.array([scale]),
        seen_px=np.array([[0.0, 0.0, plan.width_px, plan.height_px]]),
        presence=ramp(there, rate),
        thin=np.zeros(count),
        drawn=((),) * count,
        covered=((),) * count,
        scrub=np.zeros(count, bool),
    )


def _up(areas: tuple[DrawnArea, ...], time_s: Array, there: Array) -> tuple[tuple[int, ...], ...]:
    """For every frame the indices of the areas that are up at its recording time."""
    up: list[list[int]] = [[] for _ in time_s]
    for index, area in enumerate(areas):
        inside = (time_s >= area.start_s) & (time_s < area.end_s) & there
        for frame in np.flatnonzero(inside):
            up[frame].append(index)
    return tuple(tuple(found) for found in up)


class Pose:
    """The body at any clip time: points in clip pixels, angles in degrees."""

    def __init__(self, body: BodyTrack) -> None:
        self._time_s = body.time_s
        self._angles = body.angles_deg
        tracks = []
        for name in POINTS:
            hidden = body.score[name] < SEEN
            tracks.append(np.where(hidden[:, None], np.nan, body.points_px[name]))
        self._tracks = np.stack(tracks, axis=1).astype(np.float64)  # (T, points, 2)

    def points(self, clip_s: float) -> dict[str, Array]:
        """Every point at one clip time, (2,) clip pixels, corner-based; NaN = not known."""
        return dict(zip(POINTS, self._between(np.array([clip_s]), slice(None))[0], strict=True))

    def path(self, name: str, clip_s: Array) -> Array:
        """One point at many clip times, (n, 2) clip pixels; NaN = not known."""
        return self._between(clip_s, POINTS.index(name))

    def angle(self, name: str, clip_s: float) -> float:
        """Degrees, by the contract's signs; NaN = not known."""
        return float(np.interp(clip_s, self._time_s, self._angles[name]))

    def _between(self, clip_s: Array, which: slice | int) -> Array:
        after = np.clip(np.searchsorted(self._time_s, clip_s), 1, len(self._time_s) - 1)
        t0, t1 = self._time_s[after - 1], self._time_s[after]
        share = np.clip((clip_s - t0) / (t1 - t0), 0, 1)
        low, high = self._tracks[after - 1, which], self._tracks[after, which]
        share = share.reshape(-1, *[1] * (low.ndim - 1))
        # at a frame's own time a neighbour that is not known must not spread
        found = np.where(share == 0, low, np.where(share == 1, high, low + share * (high - low)))
        return np.asarray(found)


def to_screen(affine: Array, points: Array) -> Array:
    """(..., 2) clip pixels to screen pixels as overlays count them (centre of the first pixel)."""
    return np.asarray(points @ affine[:, :2].T + affine[:, 2] - CENTRE)


def scale_of(affine: Array) -> float:
    """Screen pixels per clip pixel."""
    return float(np.sqrt(abs(np.linalg.det(affine[:, :2]))))
