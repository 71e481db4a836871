"""Single frames of the clip with the athlete's angles drawn, for pictures that stand alone."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from overlays import AngleFan, Blur, Canvas, LimbLines, blend_bgr, place
from overlays.canvas import Circle
from overlays.wording import angle_text
from studio.deliver.faces import Face, FaceTrack, near
from studio.deliver.onscreen import CENTRE, Pose
from studio.deliver.plates import RAYS
from studio.deliver.scene import CHAINS, limb_circles
from studio.edit.marks import ANGLES_AT
from studio.ingest.frames import read_frames
from studio.model.arrays import Array
from studio.model.faces import OtherFaces
from studio.model.media import MediaFile
from studio.model.technique import Stroke, Technique


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


def best_stroke(technique: Technique) -> Stroke | None:
    """The surest stroke with both turning points, early among equals."""
    both = [s for s in technique.strokes if s.catch_s is not None and s.finish_s is not None]
    return max(both, key=lambda s: (s.complete, round(s.confidence, 1), -s.index), default=None)


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


def _blur(face: Face) -> Blur:
    radius = (face.radius_px, face.radius_px)
    return Blur((face.x_px - CENTRE, face.y_px - CENTRE), radius)
