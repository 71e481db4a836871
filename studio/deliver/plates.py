"""The label of a talking point and the angle fans, their plates out of each other's way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from overlays import AngleFan, Box, Callout, Canvas, Circle, NumberPlate, Placed, place
from overlays.layout import overlap
from overlays.wording import angle_text
from studio.deliver.layers import STEPS, Active
from studio.deliver.onscreen import Pose
from studio.deliver.scene import Scene, accent_of
from studio.model.plan import OverlayCue

PLATED = ("angle_fan", "callout")
"""Kinds of overlays that have a plate to be placed."""
MOST_ANGLES = 3
"""More angles at once and none is read (docs/design)."""
RAYS: dict[str, tuple[str, str, str | None]] = {
    "trunk": ("hip", "shoulder", None),
    "shin": ("ankle", "knee", None),
    "knee": ("knee", "ankle", "hip"),
    "elbow": ("elbow", "wrist", "shoulder"),
    "hip": ("hip", "shoulder", "knee"),
}
"""Angle -> vertex, tip, and the other limb's end (None = the plumb line)."""


class Plates:
    """Draws them frame after frame, remembering where the plates were.

    Args:
        pose: The athlete's joints and angles by clip time.
        facing: "left" or "right", toward the flywheel.
    """

    def __init__(self, pose: Pose, facing: str) -> None:
        self._pose, self._facing = pose, facing
        self._placed: Placed | None = None

    def draw(self, canvas: Canvas, scene: Scene, cues: list[tuple[OverlayCue, Active]]) -> None:
        """The label of the point and the fans with their plates, out of each other's way."""
        label = self._label(canvas, scene, cues)
        if label is not None:
            label.draw(canvas)
            scene.keep_out = (*scene.keep_out, _box(label, canvas))
        fans = self.fans(scene, cues)
        wishes = [fan.plate_wish(canvas, name, 1.0) for name, fan in fans.items()]
        size = (canvas.width, canvas.height)
        placed = place(wishes, size=size, keep_out=scene.keep_out, previous=self._placed)
        self._placed = placed
        for name, fan in fans.items():
            corner = placed.corner(name)
            if corner is None:
                continue
            if any(overlap(_reach(fan), area) > 0 for area in scene.drawn):
                NumberPlate(
                    text=fan.text, corner=corner, accent=fan.accent, opacity=fan.opacity
                ).draw(canvas)
            else:
                replace(fan, plate=corner).draw(canvas)

    def fans(self, scene: Scene, cues: list[tuple[OverlayCue, Active]]) -> dict[str, AngleFan]:
        """At most three, those of what is being said first; each angle once."""
        wanted = [(c, a) for c, a in cues if c.kind == "angle_fan"]
        wanted.sort(key=lambda item: -float(item[0].params.get("priority") or 0))
        if scene.thin > 0:  # while the coach draws, only what the coach is talking about
            wanted = [w for w in wanted if w[0].params.get("priority") != 1] or wanted
        fans: dict[str, AngleFan] = {}
        for cue, active in wanted:
            name = str(cue.params["angle"])
            value = self._pose.angle(name, scene.clip_s)
            opacity = scene.presence * active.opacity / STEPS
            opening = active.sweep / STEPS
            if name in fans:  # the same angle goes on under another heading: it does not blink
                fans[name] = replace(
                    fans[name],
                    opacity=max(fans[name].opacity, opacity),
                    sweep=max(fans[name].sweep, opening),
                )
                continue
            vertex, tip, other = RAYS[name]
            points = [scene.joints[n] for n in (vertex, tip)]
            ends = np.array(points)
            if len(fans) == MOST_ANGLES or not np.isfinite([value, *ends.ravel()]).all():
                continue
            fans[name] = AngleFan(
                vertex=points[0],
                tip=points[1],
                text=angle_text(f"{name}_deg", value),
                reference=scene.joints[other] if other else None,
                sweep=opening,
                accent=accent_of(cue.accent),
                opacity=opacity,
            )
        return fans

    def _label(
        self, canvas: Canvas, scene: Scene, cues: list[tuple[OverlayCue, Active]]
    ) -> Callout | None:
        """The talking point's name, in a corner of the clip's picture that nothing else needs.

        The upper corner on the flywheel's side comes first; heads seldom get there.
        """
        found = [(c, a) for c, a in cues if c.kind == "callout"]
        if not found:
            return None
        cue, active = found[-1]
        callout = Callout(
            text=str(cue.params["text"]),
            corner=(0.0, 0.0),
            accent=accent_of(cue.accent),
            opacity=scene.presence * active.opacity / STEPS,
        )
        width, height = callout.size(canvas)
        inset = canvas.text * 0.8
        left, right = scene.seen.left + inset, scene.seen.right - inset - width
        near, far = (right, left) if self._facing == "right" else (left, right)
        top, low = scene.seen.top + inset, scene.seen.bottom - 4 * inset - height
        placed = [
            replace(callout, corner=corner)
            for corner in ((near, top), (far, top), (near, low), (far, low))
        ]
        return min(placed, key=lambda c: _crowding(_box(c, canvas), scene.keep_out))


def _box(callout: Callout, canvas: Canvas) -> Box:
    width, height = callout.size(canvas)
    left, top = callout.corner
    return Box(left, top, left + width, top + height)


def _crowding(box: Box, keep_out: tuple[Box | Circle, ...]) -> float:
    return sum(overlap(box, other) for other in keep_out)


def _reach(fan: AngleFan) -> Box:
    points = [fan.vertex, fan.tip]
    xs, ys = zip(*points, strict=True)
    return Box(min(xs) - 8, min(ys) - 8, max(xs) + 8, max(ys) + 8)
