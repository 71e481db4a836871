"""The clip's frames to a pose track: whoever rows, followed from the first frame to the last."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np

from studio.errors import MediaError
from studio.ingest.frames import Upright, decode, read_frames, time_of
from studio.ingest.probe import opened, picture_stream
from studio.model.arrays import Array
from studio.model.media import VideoStream
from studio.model.pose import LANDMARKS, PoseTrack
from studio.progress import Progress, track
from studio.technique.back import STATIONS, back_outline
from studio.technique.backend import PoseEstimator, Seen
from studio.technique.backends import backend
from studio.technique.camera import CameraMotion
from studio.technique.level import picture_roll
from studio.technique.locate import Crop, find_athlete

_LOOKS = 12
"""Pictures looked at to tell the athlete from bystanders."""
_SHORT_FRAMES = 1500
"""A clip of no more is decoded once over for these: an encoder's keyframes are up to 250 frames
apart, so that going to twelve places would decode as many."""
_LARGEST_PX = 1280
"""Longer side of the pictures shown to the backend, which looks at 256 x 256 of the body anyway."""
_HIP = (LANDMARKS.index("left_hip"), LANDMARKS.index("right_hip"))
_SHOULDER = (LANDMARKS.index("left_shoulder"), LANDMARKS.index("right_shoulder"))
_ANKLE = (LANDMARKS.index("left_ankle"), LANDMARKS.index("right_ankle"))


def track_pose(
    path: Path, video: VideoStream, *, weights: str = "auto", progress: Progress
) -> PoseTrack:
    """Follow the athlete through a clip.

    Args:
        path: The clip.
        video: What `probe` said of it.
        weights: Of `config.WEIGHTS`: "auto" or a name of `backends.BACKENDS`.
        progress: Told of every frame.

    Raises:
        MediaError: The clip cannot be decoded.
        ToolError: "heavy" is asked for and not on this computer.
    """
    with backend(weights) as estimator:
        return track_with(estimator, path, video, progress=progress)


def track_with(
    estimator: PoseEstimator, path: Path, video: VideoStream, *, progress: Progress
) -> PoseTrack:
    """`track_pose` with a given backend. Memory does not grow with the clip but for the track."""
    size = _fitting(video)
    scale = np.array([video.width_px / size[0], video.height_px / size[1]], np.float32)
    pictures = [_rgb(image) for image in _spread(path, video, size)]
    crop = (find_athlete(pictures, estimator) if pictures else None) or Crop(0, 0, *size)
    rows = _Rows()
    camera = CameraMotion(size)
    follower = _Follower(estimator, [crop.of(picture) for picture in pictures])
    corner = np.array([crop.x0, crop.y0], np.float32)
    frames = read_frames(path, video, size_px=size)
    for frame in track(frames, progress, "Following the athlete", video.frame_count, "frame"):
        seen = follower.follow(_rgb(crop.of(frame.image)))
        rows.add(frame.time_s, seen, crop, scale)
        camera.add(frame.image, None if seen is None else seen.xy_px + corner)
    return rows.track(video, estimator.source, camera.to_first(scale), picture_roll(pictures))


def _fitting(video: VideoStream) -> tuple[int, int]:
    share = min(1.0, _LARGEST_PX / max(video.width_px, video.height_px))
    return round(video.width_px * share / 2) * 2, round(video.height_px * share / 2) * 2


def _rgb(image: Array) -> Array:
    return np.asarray(cv2.cvtColor(image, cv2.COLOR_BGR2RGB))


def _spread(path: Path, video: VideoStream, size: tuple[int, int]) -> Iterator[Array]:
    """Some pictures over the whole clip, BGR."""
    with opened(path) as container:
        stream = picture_stream(container)
        length = Fraction((stream and stream.duration) or 0) * video.time_base
    if length <= 0:
        length = video.frame_count / video.frame_rate
    times = [length * (2 * i + 1) / (2 * _LOOKS) for i in range(_LOOKS)]
    # Nothing may follow the last place, or its packets be broken: the others serve as well. A
    # file without any frame is told by the reading that follows.
    if video.frame_count <= _SHORT_FRAMES:
        with contextlib.suppress(MediaError):
            yield from _passed(path, video, size, times)
        return
    for start_s in times:
        with contextlib.suppress(MediaError):
            yield next(read_frames(path, video, size_px=size, start_s=start_s)).image


def _passed(
    path: Path, video: VideoStream, size: tuple[int, int], times: list[Fraction]
) -> Iterator[Array]:
    """The pictures at these times, in one pass; several times may come upon the same one."""
    upright = Upright(video, size, "bgr24")
    left = iter(times)
    wanted = next(left)
    for raw in decode(path, video=video):
        while time_of(raw, video) >= wanted:
            yield upright(raw)
            if (following := next(left, None)) is None:
                return
            wanted = following


class _Follower:
    """Follows the athlete from picture to picture, and finds them again when lost.

    A backend tracks an athlete more surely than it finds one who is small or bent double. So it is
    first shown a picture in which it did find them: they sit on the same seat all through the clip.
    """

    def __init__(self, estimator: PoseEstimator, pictures: list[Array]) -> None:
        self._estimator = estimator
        self._known: Array | None = None
        for picture in pictures:
            estimator.forget()
            if estimator.follow(picture) is not None:
                self._known = picture
                break

    def follow(self, picture: Array) -> Seen | None:
        """The athlete in the next picture; None = not to be seen."""
        seen = self._estimator.follow(picture)
        if seen is None and self._known is not None:
            self._estimator.forget()
            self._estimator.follow(self._known)
            seen = self._estimator.follow(picture)
        return seen


class _Rows:
    """Frame by frame, what was seen, in displayed pixels of the whole picture."""

    def __init__(self) -> None:
        self._time: list[float] = []
        self._xy: list[Array] = []
        self._score: list[Array] = []
        self._world: list[Array] = []
        self._back: list[Array] = []

    def add(self, time_s: Fraction, seen: Seen | None, crop: Crop, scale: Array) -> None:
        """One more frame."""
        n = len(LANDMARKS)
        self._time.append(float(time_s))
        if seen is None:
            self._xy.append(np.full((n, 2), np.nan, np.float32))
            self._score.append(np.zeros(n, np.float32))
            self._world.append(np.full((n, 3), np.nan, np.float32))
            self._back.append(np.full((STATIONS, 2), np.nan, np.float32))
            return
        corner = np.array([crop.x0, crop.y0], np.float32)
        self._xy.append((seen.xy_px + corner) * scale)
        self._score.append(seen.score)
        self._world.append(seen.world_m)
        self._back.append((_back(seen) + corner) * scale)

    def track(
        self, video: VideoStream, source: str, camera: Array, roll: float | None
    ) -> PoseTrack:
        """All frames together."""
        return PoseTrack(
            time_s=np.array(self._time),
            xy_px=np.stack(self._xy),
            score=np.stack(self._score),
            world_m=np.stack(self._world),
            back_px=np.stack(self._back),
            camera_px=camera,
            roll_deg=roll,
            width_px=video.width_px,
            height_px=video.height_px,
            source=source,
        )


def _back(seen: Seen) -> Array:
    if seen.mask is None:
        return np.full((STATIONS, 2), np.nan, np.float32)
    forward = 1 if seen.xy_px[_ANKLE, 0].mean() > seen.xy_px[_HIP, 0].mean() else -1
    near = 1 if forward > 0 else 0  # the side toward the camera, see `side.py`
    return back_outline(seen.mask, seen.xy_px[_HIP[near]], seen.xy_px[_SHOULDER[near]], forward)
