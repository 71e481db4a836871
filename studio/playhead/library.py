"""The clip held for comparison: frames small and grey, which cells move, how it repeats."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from studio.errors import EvidenceError
from studio.ingest.frames import read_frames
from studio.model.arrays import Array
from studio.model.media import MediaFile
from studio.playhead.geometry import Grid
from studio.progress import Progress

WIDEST = 640
"""Cells across the longer side of the fine grid: a hand's travel between two frames near the catch
(about 1 px of a 1280 px clip) still changes cells, and 8 s of clip take 55 MB."""
ROOM_BYTES = 400_000_000
"""Longer clips are held on a coarser grid so that they fit into this."""
FEWEST_CELLS = 24_000
"""Below this (about 200 x 120) strokes can no longer be told apart; a longer clip is refused."""
SOFT_CELLS = 1.0
"""Standard deviation of the softening, cells of a grid `WIDEST` wide: what H.264 at low quality
and scaling to a third take away."""
SOFT_STEP = 3
"""Every third moving cell is enough of a softened picture."""
MOVING_CELLS = 24_000
"""At most so many moving cells are compared; more tell nothing new and cost time."""


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells that differ between frames of the clip, on one grid.

    Attributes:
        where: (D,) int64 into the flattened grid.
        rows: (F, D) uint8, each frame's value there.
    """

    where: Array
    rows: Array


@dataclass(frozen=True, slots=True)
class Library:
    """A clip for comparison.

    Attributes:
        time_s: (F,) float64, clip time of every frame.
        grid: The fine grid.
        frames: (F, h, w) uint8 grey on the fine grid.
        half: The same clip on a grid of half the cells along each side.
        coarse: Moving cells on the half grid.
        fine: Moving cells on the fine grid.
        soft: Some of the fine cells, of the softened clip.
        noise: Mean square difference of neighbouring frames in still cells: the clip's own noise.
        period_s: Time from stroke to stroke as the picture repeats; None where it does not.
    """

    time_s: Array
    grid: Grid
    frames: Array
    half: Grid
    coarse: Cells
    fine: Cells
    soft: Cells
    noise: float
    period_s: float | None

    def step_s(self) -> float:
        """Usual time between two frames."""
        return float(np.median(np.diff(self.time_s))) if len(self.time_s) > 1 else 1 / 30

    def halved(self, index: int) -> Array:
        """(h / 2, w / 2) uint8, one frame on the half grid."""
        return halve(self.frames[index])


def halve(image: Array) -> Array:
    """An image of even size averaged 2 x 2."""
    h, w = image.shape
    return cv2.resize(image, (w // 2, h // 2), interpolation=cv2.INTER_AREA)


def softened(image: Array) -> Array:
    """An image without the finest detail, which a recording's scaling and codec take first."""
    return cv2.GaussianBlur(image, (0, 0), SOFT_CELLS * image.shape[1] / WIDEST)


def hold(path: Path, clip: MediaFile, progress: Progress) -> Library:
    """Decode the clip once and hold it.

    Raises:
        MediaError: Cannot be read.
        EvidenceError: Far too long, or a single still picture.
    """
    video = clip.video
    assert video is not None
    size = _size(path, video.width_px, video.height_px, video.frame_count)
    progress.start("Reading the clip", video.frame_count, "frame")
    times, images = [], []
    try:
        for frame in read_frames(path, video, size_px=size, grey=True):
            times.append(float(frame.time_s))
            images.append(frame.image)
            progress.advance()
    finally:
        progress.finish()
    if len(images) < 2:
        raise EvidenceError(f"{path}: is a single picture, not a video.", "Give the clip itself.")
    return make(np.array(times), np.stack(images), (video.width_px, video.height_px))


def make(time_s: Array, frames: Array, clip_px: tuple[int, int]) -> Library:
    """A library from (F, h, w) uint8 frames of even size at clip times (F,)."""
    count, h, w = frames.shape
    grid, half = Grid(clip_px, (w, h)), Grid(clip_px, (w // 2, h // 2))
    halves = np.stack([halve(image) for image in frames])
    fine, coarse = _moving(frames), _moving(halves)
    steps = np.diff(halves[:: max(1, count // 60)].astype(np.int16), axis=0)
    noise = float(np.median((steps.astype(np.float32) ** 2).mean(axis=0)))
    return Library(
        time_s, grid, frames, half, coarse, fine, _softened_cells(frames, fine.where),
        max(noise, 0.25), _period(time_s, coarse.rows),
    )  # fmt: skip


def _size(path: Path, width: int, height: int, count: int) -> tuple[int, int]:
    scale = min(1.0, WIDEST / max(width, height))
    area = min(width * height * scale**2, ROOM_BYTES / max(count, 1))
    if area < min(FEWEST_CELLS, width * height * scale**2):
        raise EvidenceError(
            f"{path}: too long to follow as a clip.", "Cut out the strokes that are talked about."
        )
    ratio = (area / (width * height)) ** 0.5
    return max(8, 2 * round(width * ratio / 2)), max(8, 2 * round(height * ratio / 2))


def _moving(frames: Array) -> Cells:
    """The cells that vary most over the clip."""
    count = len(frames)
    some = frames[:: max(1, count // 200)].astype(np.float32)
    spread = some.std(axis=0).ravel()
    limit = max(2.0, 3 * float(np.median(spread)))
    if (spread > limit).sum() < 200:  # a hand-held camera: everything moves alike
        limit = float(np.quantile(spread, 0.5))
    where = np.flatnonzero(spread >= limit)
    if len(where) > MOVING_CELLS:
        order = np.argsort(-spread[where], kind="stable")
        where = np.sort(where[order[:MOVING_CELLS]])
    return Cells(where, np.ascontiguousarray(frames.reshape(count, -1)[:, where]))


def _softened_cells(frames: Array, where: Array) -> Cells:
    some = where[::SOFT_STEP]
    rows = np.stack([softened(image).ravel()[some] for image in frames])
    return Cells(some, rows)


def _period(time_s: Array, rows: Array) -> float | None:
    """The lag at which the clip is most like itself, beyond the first unlike one.

    Mean square difference against lag (the picture's average magnitude difference function, after
    Ross et al. 1974 for pitch); the first deep dip is the stroke.
    """
    count = len(rows)
    thin = rows[:, :: max(1, rows.shape[1] // 2000)].astype(np.float32)
    lags = np.arange(1, max(2, count * 3 // 4))
    squares = (thin**2).sum(axis=1)
    apart = squares[:, None] + squares[None] - 2 * thin @ thin.T
    curve = np.array([np.diagonal(apart, int(lag)).mean() for lag in lags])
    top = float(curve.max())
    if len(curve) < 8 or top <= 0:
        return None
    dips = [
        i
        for i in range(1, len(curve) - 1)
        if curve[i] <= curve[i - 1] and curve[i] < curve[i + 1] and curve[i] < 0.5 * top
        and curve[:i].max() > 0.7 * top
    ]  # fmt: skip
    if not dips:
        return None
    best = min(float(curve[i]) for i in dips)
    first = next(i for i in dips if curve[i] < best + 0.2 * top)
    return float(lags[first] * np.median(np.diff(time_s)))
