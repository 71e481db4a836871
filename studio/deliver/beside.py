"""Holds that show two moments of the clip beside each other."""

from __future__ import annotations

from pathlib import Path

import av
import numpy as np

from overlays import Canvas, SideBySide, blend_bgr
from overlays.wording import angle_text
from studio.deliver.onscreen import Pose
from studio.deliver.planes import Coding, from_bgr
from studio.deliver.stills import StillDrawer, frames_at
from studio.edit.marks import ANGLES_AT
from studio.model.arrays import Array
from studio.model.faces import OtherFaces
from studio.model.media import MediaFile
from studio.model.plan import EditPlan
from studio.model.technique import Technique

SAME_TURN_S = 0.1
"""A moment this near a turning point is that of the turning point."""


class Beside:
    """The whole pictures of a plan's comparing holds, each made once."""

    def __init__(
        self,
        plan: EditPlan,
        clip: tuple[Path, MediaFile] | None,
        technique: Technique | None,
        others: OtherFaces | None,
        coding: Coding,
    ) -> None:
        self._frames: dict[int, av.VideoFrame] = {}
        cues = [(i, c) for i, c in enumerate(plan.overlays) if c.kind == "side_by_side"]
        if not cues or clip is None or technique is None:
            return
        drawer = StillDrawer(clip, technique, plan.blur_athlete, others)
        times = sorted({_time(c.params[side]) for _, c in cues for side in ("left_s", "right_s")})
        found = frames_at(clip, times)
        for index, cue in cues:
            phase = str(cue.params["phase"])
            sides = [_time(cue.params[side]) for side in ("left_s", "right_s")]
            drawn = [drawer.draw(found[time], time, phase) for time in sides]
            picture = compare(drawn, sides, phase, technique, (plan.width_px, plan.height_px))
            self._frames[index] = from_bgr(picture, coding)

    def frame(self, cue: int) -> av.VideoFrame | None:
        """The picture of overlay number `cue`; None where it is no comparison."""
        return self._frames.get(cue)


def compare(
    pictures: list[Array],
    times: list[float],
    phase: str,
    technique: Technique,
    size: tuple[int, int],
) -> Array:
    """Two drawn clip pictures beside each other, (h, w, 3) BGR; `times` are their clip times."""
    pose = Pose(technique.body)
    labels, angles = [], []
    for time in times:
        labels.append(_stroke_label(technique, phase, time) or f"{time:.1f} s")
        texts = [angle_text(f"{name}_deg", pose.angle(name, time)) for name in ANGLES_AT[phase]]
        angles.append(tuple(text for text in texts if text))
    left, right = (np.asarray(picture, np.uint8) for picture in pictures)
    canvas = Canvas(*size)
    SideBySide(
        left=left,
        right=right,
        left_label=labels[0],
        right_label=labels[1],
        left_angles=angles[0],
        right_angles=angles[1],
        title={"catch": "Two catches", "finish": "Two finishes"}[phase],
    ).draw(canvas)
    image = np.zeros((canvas.height, canvas.width, 3), np.uint8)
    blend_bgr(image, canvas.marks)
    return image


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
