"""Pictures to post: the best catch and finish with their angles, a comparison, a thumbnail."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np

from overlays import AngleFan, Blur, Callout, Canvas, LimbLines, blend_bgr, place
from overlays.canvas import SAFE_SHARE, Circle
from overlays.wording import angle_text
from studio.config import Settings
from studio.deliver.faces import Face, FaceTrack, near
from studio.deliver.onscreen import CENTRE, Pose
from studio.deliver.plates import RAYS
from studio.deliver.scene import CHAINS, limb_circles
from studio.edit.marks import ANGLES_AT
from studio.errors import OutputError
from studio.ingest.frames import read_frames
from studio.model.arrays import Array
from studio.model.faces import OtherFaces
from studio.model.media import MediaFile
from studio.model.technique import Stroke, Technique
from studio.store import write_aside

THUMBNAIL_PX = (1280, 720)
"""What hosts ask for."""
QUALITY = 92
PAIR_PX = (1920, 1080)
HEADLINE_SCALE = 2
"""A thumbnail is seen the size of a stamp: its words are twice the size of a plate's."""


def write_stills(
    clip: tuple[Path, MediaFile],
    technique: Technique,
    settings: Settings,
    folder: Path,
    *,
    others: OtherFaces | None,
) -> list[Path]:
    """Write `catch.png`, `finish.png`, `strokes.png` (two catches) and `thumbnail.jpg`.

    Faces are blurred as in the program. What the clip does not show is not written.

    Args:
        clip: The athlete's clip.
        technique: What it shows.
        settings: `episode.toml`.
        folder: Where the pictures go.
        others: Bystanders' faces to blur.

    Raises:
        MediaError: The clip cannot be read.
        OutputError: Cannot write.
    """
    chosen = best_stroke(technique)
    other = _other(technique, chosen)
    times = {
        "catch": chosen.catch_s if chosen else None,
        "finish": chosen.finish_s if chosen else None,
        "other": other.catch_s if other else None,
    }
    wanted = {name: time for name, time in times.items() if time is not None}
    frames = frames_at(clip, sorted(wanted.values()))
    drawer = StillDrawer(clip, technique, settings.athlete.consent != "yes", others)
    drawn = {
        name: drawer.draw(frames[time], time, "finish" if name == "finish" else "catch")
        for name, time in wanted.items()
    }
    written = [
        _write(folder / f"{name}.png", drawn[name]) for name in ("catch", "finish") if name in drawn
    ]
    if chosen and other and "catch" in drawn and "other" in drawn:
        pair = sorted(((chosen, drawn["catch"]), (other, drawn["other"])), key=lambda p: p[0].index)
        written.append(_write(folder / "strokes.png", _pair(pair, technique)))
    if "catch" in drawn:
        written.append(_write(folder / "thumbnail.jpg", _thumbnail(drawn["catch"], settings)))
    return written


class StillDrawer:
    """Draws on the clip's own frames."""

    def __init__(
        self,
        clip: tuple[Path, MediaFile],
        technique: Technique,
        blur_athlete: bool,
        others: OtherFaces | None,
    ) -> None:
        video = clip[1].video
        assert video is not None
        self._pose = Pose(technique.body)
        self._track = FaceTrack(technique, (video.width_px, video.height_px))
        self._blur_athlete = blur_athlete
        self._others = others

    def draw(self, image: Array, clip_s: float, phase: str) -> Array:
        """A frame with its angles; (h, w, 3) BGR, a new array."""
        image = image.copy()
        canvas = Canvas(image.shape[1], image.shape[0])
        for face in self._faces(clip_s):
            canvas.add(_blur(face))
        joints = {
            name: (float(x) - CENTRE, float(y) - CENTRE)
            for name, (x, y) in self._pose.points(clip_s).items()
        }
        LimbLines(chains=[[joints[n] for n in chain] for chain in CHAINS]).draw(canvas)
        fans = {}
        for name in ANGLES_AT[phase]:
            vertex, tip, far = RAYS[name]
            text = angle_text(f"{name}_deg", self._pose.angle(name, clip_s))
            fans[name] = AngleFan(
                vertex=joints[vertex],
                tip=joints[tip],
                text=text,
                reference=joints[far] if far else None,
            )
        face = self._track.at(clip_s, 0.0)
        keep_out = [Circle((face.x_px, face.y_px), face.radius_px)]
        keep_out += limb_circles(joints, canvas.unit)
        size = (canvas.width, canvas.height)
        wishes = [fan.plate_wish(canvas, name) for name, fan in fans.items() if fan.text]
        placed = place(wishes, size=size, keep_out=keep_out)
        for name, fan in fans.items():
            replace(fan, plate=placed.corner(name)).draw(canvas)
        blend_bgr(image, canvas.marks)
        return image

    def _faces(self, clip_s: float) -> list[Face]:
        own = [self._track.at(clip_s, 0.05)] if self._blur_athlete else []
        return own + (near(self._others, clip_s) if self._others is not None else [])


def _pair(pair: list[tuple[Stroke, Array]], technique: Technique) -> Array:
    from studio.deliver.beside import compare, side_of

    left, right = (
        side_of(image, technique, "catch", stroke.catch_s or 0.0) for stroke, image in pair
    )
    return compare(left, right, "catch", PAIR_PX)


def _blur(face: Face) -> Blur:
    radius = (face.radius_px, face.radius_px)
    return Blur((face.x_px - CENTRE, face.y_px - CENTRE), radius)


def best_stroke(technique: Technique) -> Stroke | None:
    """The surest stroke with both turning points, early among equals."""
    both = [s for s in technique.strokes if s.catch_s is not None and s.finish_s is not None]
    return max(both, key=lambda s: (s.complete, round(s.confidence, 1), -s.index), default=None)


def _other(technique: Technique, chosen: Stroke | None) -> Stroke | None:
    """The stroke farthest from the chosen one in time, to compare with."""
    if chosen is None:
        return None
    rest = [s for s in technique.strokes if s.catch_s is not None and s is not chosen]
    return max(rest, key=lambda s: abs(s.index - chosen.index), default=None)


def frames_at(clip: tuple[Path, MediaFile], times: list[float]) -> dict[float, Array]:
    """The clip's frame at each of some ascending clip times, (h, w, 3) BGR."""
    path, media = clip
    assert media.video is not None
    found: dict[float, Array] = {}
    before: Array | None = None
    todo = list(times)
    for frame in read_frames(path, media.video):
        while todo and frame.time_s > Fraction(todo[0]) + Fraction(1, 1000):
            found[todo.pop(0)] = frame.image if before is None else before
        before = frame.image
        if not todo:
            break
    if before is not None:
        found |= dict.fromkeys(todo, before)
    return found


def _thumbnail(image: Array, settings: Settings) -> Array:
    """The catch filling the frame, the episode's title large along the bottom."""
    width, height = THUMBNAIL_PX
    scale = max(width / image.shape[1], height / image.shape[0])
    size = (round(image.shape[1] * scale), round(image.shape[0] * scale))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    large = cv2.resize(image, size, interpolation=way)
    x, y = (size[0] - width) // 2, (size[1] - height) // 2
    picture = np.ascontiguousarray(large[y : y + height, x : x + width])
    title = settings.episode.title or settings.episode.series
    if title:
        # plates take their letters from the canvas's height: a taller one gives a headline
        tall = Canvas(width, HEADLINE_SCALE * height)
        headline = Callout(text=title, corner=(0.0, 0.0))
        left, gap = tall.safe.left, (1 - SAFE_SHARE) / 2 * height
        top = height - gap - headline.size(tall)[1]
        replace(headline, corner=(left, top)).draw(tall)
        blend_bgr(picture, tall.marks)
    return picture


def _write(path: Path, image: Array) -> Path:
    with write_aside(path) as aside:
        options = [cv2.IMWRITE_JPEG_QUALITY, QUALITY] if path.suffix == ".jpg" else []
        if not cv2.imwrite(str(aside), image, options):
            raise OutputError(f"{path}: cannot be written.")
    return path
