"""Recording and clip in, playhead out."""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np

from studio.errors import EvidenceError
from studio.ingest.frames import read_frames
from studio.model.arrays import Array
from studio.model.media import MediaFile, VideoStream
from studio.model.playhead import STATES, Playhead, Span
from studio.playhead.drawn import drawn_areas
from studio.playhead.geometry import Place
from studio.playhead.library import Library, hold
from studio.playhead.places import settled_places, windows
from studio.playhead.runs import states_of
from studio.playhead.settle import Settled, settle
from studio.playhead.watch import Watcher
from studio.progress import Progress

WORK_PX = 1280
"""The recording is looked at no wider than this, reduced by a whole number."""
FEWEST_S = 1.0
"""A clip that is on screen for less than this was not talked about."""
UNSURE = 0.1
"""Share of uncertain moments that is worth a word; a few near each catch are usual."""
UNLIKE = 0.5
"""Where half the rower's picture differs as much as two random moments of the clip do, it is
another clip from the same room."""


def follow(
    recording_path: Path, recording: MediaFile, clip_path: Path, clip: MediaFile,
    *, progress: Progress,
) -> Playhead:  # fmt: skip
    """Find which moment of the clip is on screen, all through the recording.

    Args:
        recording_path: The coach's recording.
        recording: What `probe` said of it.
        clip_path: The athlete's clip.
        clip: What `probe` said of it.
        progress: Told of every frame.

    Raises:
        MediaError: A file cannot be read.
        EvidenceError: The clip is never on screen, or it is another clip.
    """
    library = hold(clip_path, clip, progress)
    video = recording.video
    assert video is not None
    watcher = _watch(recording_path, video, library, progress)
    rows = watcher.rows
    step = float(np.median(np.diff(rows.time_s))) if len(rows.time_s) > 1 else 1 / 30
    end_s = rows.time_s[-1] + step
    _refuse_strangers(watcher, library, recording_path, clip_path, end_s)
    settled = settle(rows, library, end_s)
    places = settled_places(rows)
    row_of = np.array(rows.row_of_frame)
    placement = np.where(settled.frame >= 0, np.array(rows.place)[row_of], -1)
    state = states_of(settled.runs, settled.plays, library.time_s, len(settled.frame))
    drawn, lasting = drawn_areas(rows, places, library.grid, watcher.cover_shape(), end_s)
    return Playhead(
        recording_s=np.array(rows.time_s),
        clip_s=_times(settled.frame, library),
        state=state,
        placement=placement.astype(np.int32),
        clip_to_screen=np.stack([p.matrix() for p in places]),
        seen_px=windows(places, rows, library.grid),
        confidence=settled.confidence.astype(np.float32),
        second_s=_times(settled.second, library),
        spans=spans_of(np.array(rows.time_s), _times(settled.frame, library), state, end_s),
        drawn=drawn,
        width_px=video.width_px,
        height_px=video.height_px,
        notices=_notices(settled, places),
        covered=lasting,
    )


def _watch(path: Path, video: VideoStream, library: Library, progress: Progress) -> Watcher:
    shrink = max(1, -(-video.width_px // WORK_PX))
    size = (video.width_px // shrink, video.height_px // shrink)
    watcher = Watcher(library, (video.width_px, video.height_px), video.width_px / size[0])
    progress.start("Following the clip", video.frame_count, "frame")
    try:
        for frame in read_frames(path, video, size_px=size, grey=True):
            watcher.feed(float(frame.time_s), frame.image)
            progress.advance()
    finally:
        progress.finish()
    return watcher


def _refuse_strangers(
    watcher: Watcher, library: Library, recording: Path, clip: Path, end_s: float
) -> None:
    rows = watcher.rows
    hint = "Name the clip that is talked about in this recording."
    there = np.array(rows.place)[np.array(rows.row_of_frame)] >= 0
    time_s = np.append(rows.time_s, end_s)
    if float(np.diff(time_s)[there].sum()) < min(FEWEST_S, 0.5 * end_s):
        raise EvidenceError(f"{clip}: is never on screen in {recording}.", hint)
    if strangeness(rows.cost, library) > UNLIKE:
        raise EvidenceError(f"{clip}: looks like the place in {recording}, but not the clip.", hint)


def strangeness(cost: list[Array], library: Library) -> float:
    """Error of the best frame, over the error between random moments of the clip.

    Of the quarter of the pictures that fit best: drawings over the rower spoil the others.
    """
    least = [float(c.min()) for c in cost if len(c)]
    rows = library.fine.rows
    rng = np.random.default_rng(1)
    a, b = rng.integers(0, len(rows), (2, 60))
    apart = np.minimum(np.abs(rows[a].astype(np.float32) - rows[b]), 40.0) ** 2
    return float(np.quantile(least, 0.25)) / max(float(np.median(apart.mean(axis=1))), 1.0)


def _times(frame: Array, library: Library) -> Array:
    return np.where(frame >= 0, library.time_s[np.maximum(frame, 0)], np.nan)


def spans_of(recording_s: Array, clip_s: Array, state: Array, end_s: float) -> tuple[Span, ...]:
    """Stretches of one state; a play that jumps (a loop, a seek) begins a new one."""
    if not len(state):
        return ()
    hop = np.diff(clip_s)
    breaks = np.diff(state) != 0
    playing = (state[1:] == 1) & (state[:-1] == 1)
    breaks |= playing & (hop < 0)
    breaks |= (state[1:] == 2) & (state[:-1] == 2) & (hop != 0)
    edges = [0, *(np.flatnonzero(breaks) + 1).tolist(), len(state)]
    ends = np.append(recording_s, end_s)
    found = []
    for a, b in itertools.pairwise(edges):
        kind = STATES[int(state[a])]
        start, stop = float(ends[a]), float(ends[b])
        if kind == "absent":
            found.append(Span(start, stop, kind, None, None, None))
            continue
        first, last = float(clip_s[a]), float(clip_s[b - 1])
        shown_s = float(recording_s[b - 1] - recording_s[a])
        rate = (last - first) / shown_s if shown_s > 0 and kind != "paused" else 0.0
        found.append(Span(start, stop, kind, first, last, rate))
    return tuple(found)


def _notices(settled: Settled, places: list[Place]) -> tuple[str, ...]:
    told = []
    there = settled.frame >= 0
    unsure = float((settled.confidence[there] < 0.5).mean())
    if unsure > UNSURE:
        told.append(
            f"For {unsure:.0%} of the time the clip is on screen, its exact moment is not certain."
        )
    if any(p.ax < 0 for p in places):
        told.append("The clip is shown mirrored.")
    return tuple(told)
