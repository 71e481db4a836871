"""Which faces to blur where: the athlete's without consent, bystanders' by default."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from overlays import Blur
from studio.deliver.onscreen import OnScreen, scale_of, to_screen
from studio.ingest.frames import read_frames
from studio.model.arrays import Array
from studio.model.faces import OtherFaces
from studio.model.media import MediaFile
from studio.model.technique import Technique
from studio.progress import silenced

MARGIN = 1.25
"""Blur radius over the face's own."""
LOST = 1.8
"""The same where the face was not seen and its place is only known from other frames."""
SPEED = 1.5
"""Face radii per second by which a lost face may have moved away from where it was last seen."""
GUARD_FRAMES = 4
"""Frames before and after the clip's time on screen that are blurred too: a cut found a frame late
must not show a face."""
EVERY_S = 0.2
"""Bystanders move little: they are looked for this often and blurred for as long either side."""
SURE = 0.4


@dataclass(frozen=True, slots=True)
class Face:
    """A circle in clip pixels that holds a face."""

    x_px: float
    y_px: float
    radius_px: float


class FaceTrack:
    """The athlete's face at any clip time; it is never nowhere."""

    def __init__(self, technique: Technique | None, size_px: tuple[int, int]) -> None:
        self._size = size_px
        empty = np.zeros((0, 3))
        face = technique.body.face_px.astype(np.float64) if technique else empty
        known = np.isfinite(face).all(1)
        times = technique.body.time_s if technique else np.zeros(0)
        # a face is seen at a moment when the frame on screen then is one where it was found
        self._frame_s = 0.75 * float(np.median(np.diff(times))) if len(times) > 1 else 0.0
        self._time_s = technique.body.time_s[known] if technique else np.zeros(0)
        self._face = face[known]

    def at(self, clip_s: float, reach_s: float) -> Face:
        """A circle that holds the face at a clip time, give or take `reach_s`.

        A face not seen there is taken from the nearest moments on either side, larger; a face never
        seen at all is everywhere.
        """
        if not len(self._time_s):
            width, height = self._size
            return Face(width / 2, height / 2, 0.75 * max(width, height))
        distance_s = np.abs(self._time_s - clip_s)
        close = distance_s <= max(reach_s, 0.05)
        away = float(distance_s.min())
        if away <= self._frame_s:
            return _around(self._face[close], MARGIN)
        after = int(np.searchsorted(self._time_s, clip_s))
        close[max(0, after - 1) : after + 1] = True
        return _around(self._face[close], LOST + SPEED * away)


class Blurs:
    """The blurs of every program frame."""

    def __init__(
        self,
        table: OnScreen,
        athlete: FaceTrack | None,
        others: OtherFaces | None,
    ) -> None:
        self._table, self._athlete = table, athlete
        self._others = others if others is not None and len(others.time_s) else None
        self._source = _nearest_shown(table.affine)
        self._none = athlete is None and self._others is None

    def at(self, frame: int) -> tuple[Blur, ...]:
        """What to blur on a program frame, screen pixels."""
        if self._none:
            return ()
        source = int(self._source[frame])
        if source < 0:
            return ()
        affine = self._table.affines[self._table.affine[source]]
        clip_s = float(self._table.clip_s[source])
        reach_s = 0.4 if self._table.scrub[frame] else 0.07
        found = []
        if self._athlete is not None:
            found.append(_blur(affine, self._athlete.at(clip_s, reach_s)))
        if self._others is not None:
            found += [_blur(affine, face) for face in near(self._others, clip_s, reach_s)]
        return tuple(found)


def near(others: OtherFaces, clip_s: float, reach_s: float = 0.0) -> list[Face]:
    """The bystanders' faces around a clip time, give or take `reach_s`."""
    close = np.abs(others.time_s - clip_s) <= EVERY_S + reach_s
    return [Face(*(float(v) for v in row)) for row in others.circle_px[close]]


def bystanders(path: Path, media: MediaFile, technique: Technique | None) -> OtherFaces:
    """Faces in the clip that are not the athlete's, with their clip times.

    Uses the short-range face detector carried in the mediapipe package, on the whole picture and
    on its two square ends (a face far away is small). Without a known athlete nobody can be told
    apart: then there are none.

    Raises:
        MediaError: The clip cannot be read.
    """
    if technique is None or media.video is None:
        return _as_rows([])
    from mediapipe.python.solutions.face_detection import FaceDetection

    athlete = FaceTrack(technique, (media.video.width_px, media.video.height_px))
    found: list[tuple[float, Face]] = []
    due = 0.0
    with silenced(), FaceDetection(model_selection=1, min_detection_confidence=SURE) as detector:
        for frame in read_frames(path, media.video):
            if float(frame.time_s) < due:
                continue
            due = float(frame.time_s) + EVERY_S
            own = athlete.at(float(frame.time_s), 0.05)
            for face in _detected(detector, frame.image):
                away = np.hypot(face.x_px - own.x_px, face.y_px - own.y_px)
                if away > 1.2 * own.radius_px + face.radius_px / 2:
                    found.append((float(frame.time_s), face))
    return _as_rows(found)


def _as_rows(found: list[tuple[float, Face]]) -> OtherFaces:
    rows = np.array([(time, f.x_px, f.y_px, f.radius_px) for time, f in found]).reshape(-1, 4)
    return OtherFaces(rows[:, 0].copy(), rows[:, 1:].copy())


def _detected(detector: object, image: Array) -> list[Face]:
    height, width = image.shape[:2]
    side = min(height, width)
    cuts = [(0, 0, width, height)]
    if width > 1.2 * side or height > 1.2 * side:
        cuts += [(0, 0, side, side), (width - side, height - side, width, height)]
    faces = []
    for x0, y0, x1, y1 in cuts:
        part = np.ascontiguousarray(image[y0:y1, x0:x1, ::-1])
        result = detector.process(part)  # type: ignore[attr-defined]
        for detection in result.detections or ():
            box = detection.location_data.relative_bounding_box
            across, down = box.width * (x1 - x0), box.height * (y1 - y0)
            x = x0 + box.xmin * (x1 - x0) + across / 2
            y = y0 + box.ymin * (y1 - y0) + down / 2
            faces.append(Face(x, y, 0.75 * max(across, down)))
    return faces


def _around(faces: Array, margin: float) -> Face:
    """A circle round several circles (their boxes' centre and reach)."""
    low = (faces[:, :2] - faces[:, 2:]).min(0)
    high = (faces[:, :2] + faces[:, 2:]).max(0)
    x, y = (low + high) / 2
    return Face(float(x), float(y), float((high - low).max() / 2 * margin))


def _blur(affine: Array, face: Face) -> Blur:
    x, y = to_screen(affine, np.array([face.x_px, face.y_px]))
    radius = face.radius_px * scale_of(affine)
    return Blur((float(x), float(y)), (radius, radius))


def _nearest_shown(affine: Array) -> Array:
    """For every frame the nearest one with the clip within the guard; -1 = none."""
    count = len(affine)
    source = np.where(affine >= 0, np.arange(count), -1)
    for step in range(1, GUARD_FRAMES + 1):
        for way in (step, -step):
            other = np.arange(count) + way
            inside = (other >= 0) & (other < count)
            shown = np.zeros(count, bool)
            shown[inside] = affine[other[inside]] >= 0
            source = np.where((source < 0) & shown, other, source)
    return source
