"""Holds that show two moments beside each other: of one clip, or of two athletes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import av
import numpy as np

from overlays import Canvas, SideBySide, blend_bgr
from overlays.wording import angle_text
from studio.deliver.clip_frame import StillDrawer, best_stroke, frames_at
from studio.deliver.onscreen import Pose
from studio.deliver.planes import Coding, from_bgr
from studio.edit.marks import ANGLES_AT
from studio.errors import EvidenceError
from studio.model.arrays import Array
from studio.model.faces import OtherFaces
from studio.model.media import MediaFile
from studio.model.plan import EditPlan, OverlayCue
from studio.model.technique import Technique

SAME_TURN_S = 0.1
"""A moment this near a turning point is that of the turning point."""


@dataclass(frozen=True, slots=True)
class Athlete:
    """One athlete as a comparison needs to know them.

    Attributes:
        clip: The athlete's clip.
        technique: What it shows.
        blur: Without consent the face is blurred.
        others: Bystanders' faces to blur.
        alias: Name to use; empty = none.
    """

    clip: tuple[Path, MediaFile]
    technique: Technique
    blur: bool
    others: OtherFaces | None
    alias: str = ""

    def side(self, phase: str, clip_s: float, alias: str) -> Side:
        """The athlete's own frame at a clip time, drawn on."""
        drawer = StillDrawer(self.clip, self.technique, self.blur, self.others)
        image = drawer.draw(frames_at(self.clip, [clip_s])[clip_s], clip_s, phase)
        return side_of(image, self.technique, phase, clip_s, alias)

    def best(self, phase: str) -> float:
        """Clip time of the surest catch or finish. Raises: EvidenceError where there is none."""
        stroke = best_stroke(self.technique)
        turn = None
        if stroke is not None:
            turn = stroke.catch_s if phase == "catch" else stroke.finish_s
        if turn is None:
            raise EvidenceError(
                f"{self.clip[0]}: shows no whole stroke to compare with.",
                'Drop that "compare" from corrections.toml, or name another episode.',
            )
        return turn


@dataclass(frozen=True, slots=True)
class Side:
    """Half of a comparison: a drawn (h, w, 3) BGR picture, its label, its angles in words."""

    picture: Array
    label: str
    angles: tuple[str, ...]


class Beside:
    """The whole pictures of a plan's comparing holds, each made once."""

    def __init__(
        self,
        plan: EditPlan,
        athlete: Athlete | None,
        guests: Mapping[str, Athlete],
        coding: Coding,
    ) -> None:
        self._frames: dict[int, av.VideoFrame] = {}
        for index, cue in enumerate(plan.overlays):
            if cue.kind == "side_by_side" and athlete is not None:
                left, right = _sides(cue, athlete, guests)
                size = plan.width_px, plan.height_px
                picture = compare(left, right, str(cue.params["phase"]), size)
                self._frames[index] = from_bgr(picture, coding)

    def frame(self, cue: int) -> av.VideoFrame | None:
        """The picture of overlay number `cue`; None where it is no comparison."""
        return self._frames.get(cue)


def compare(left: Side, right: Side, phase: str, size: tuple[int, int]) -> Array:
    """Two sides on one picture of `size` (width, height); (h, w, 3) BGR."""
    canvas = Canvas(*size)
    SideBySide(
        left=np.asarray(left.picture, np.uint8),
        right=np.asarray(right.picture, np.uint8),
        left_label=left.label,
        right_label=right.label,
        left_angles=left.angles,
        right_angles=right.angles,
        title={"catch": "Two catches", "finish": "Two finishes"}[phase],
    ).draw(canvas)
    image = np.zeros((canvas.height, canvas.width, 3), np.uint8)
    blend_bgr(image, canvas.marks)
    return image


def side_of(
    picture: Array, technique: Technique, phase: str, clip_s: float, alias: str = ""
) -> Side:
    """A drawn picture with what is said of it: the alias, else which stroke or what time it is."""
    pose = Pose(technique.body)
    texts = [angle_text(f"{name}_deg", pose.angle(name, clip_s)) for name in ANGLES_AT[phase]]
    label = alias or _stroke_label(technique, phase, clip_s) or f"{clip_s:.1f} s"
    return Side(picture, label, tuple(text for text in texts if text))


def _sides(cue: OverlayCue, athlete: Athlete, guests: Mapping[str, Athlete]) -> tuple[Side, Side]:
    phase = str(cue.params["phase"])
    guest = guests.get(str(cue.params["right_episode"]))
    # two strokes of one athlete are told apart by number, two athletes by name
    left = athlete.side(phase, _time(cue.params["left_s"]), athlete.alias if guest else "")
    if guest is not None:
        return left, guest.side(phase, guest.best(phase), guest.alias)
    return left, athlete.side(phase, _time(cue.params["right_s"]), "")


def _stroke_label(technique: Technique, phase: str, time: float) -> str:
    """Which stroke's catch or finish a clip time is; empty where it is none's."""
    for stroke in technique.strokes:
        turn = stroke.catch_s if phase == "catch" else stroke.finish_s
        if turn is not None and abs(turn - time) <= SAME_TURN_S:
            return f"stroke {stroke.index + 1}"
    return ""


def _time(value: str | float | int | bool | None) -> float:
    assert isinstance(value, (int, float))
    return float(value)
