"""A look to marks: the overlays of one frame, locked to the athlete."""

from __future__ import annotations

import numpy as np

from overlays import Box, Canvas, Circle, DraftMark, Mark
from overlays.canvas import known
from studio.deliver.athlete_marks import AthleteMarks
from studio.deliver.layers import STEPS, Look
from studio.deliver.onscreen import CENTRE, OnScreen, Pose, scale_of, to_screen
from studio.deliver.plates import PLATED, Plates
from studio.deliver.scene import Scene, limb_circles
from studio.model.arrays import Array
from studio.model.plan import EditPlan
from studio.model.playhead import Playhead
from studio.model.technique import Technique


class Drawing:
    """Draws looks, one after another, remembering where the plates were."""

    def __init__(
        self,
        plan: EditPlan,
        table: OnScreen,
        technique: Technique | None,
        playhead: Playhead | None,
    ) -> None:
        self._plan, self._table = plan, table
        self._athlete = _Athlete(technique) if technique else None
        self._areas = playhead.drawn if playhead else ()
        self._windows = playhead.covered if playhead else ()
        self._last: tuple[Look, list[Mark]] | None = None

    def marks(self, look: Look) -> list[Mark]:
        """The marks of a look, in the order to blend; the same objects for an equal look."""
        if self._last is None or self._last[0] != look:
            self._last = (look, self._draw(look))
        return self._last[1]

    def _draw(self, look: Look) -> list[Mark]:
        canvas = Canvas(self._plan.width_px, self._plan.height_px)
        cues = [(self._plan.overlays[a.cue], a) for a in look.active]
        if look.affine >= 0 and look.presence and self._athlete is not None:
            scene = self._scene(look, self._athlete)
            if any(cue.kind in PLATED for cue, _ in cues):
                scene.keep_out = _keep_out(canvas, scene, self._athlete.face(scene.clip_s))
            self._athlete.marks.draw(canvas, scene, cues)
            self._athlete.plates.draw(canvas, scene, cues)
        if any(cue.kind == "draft_mark" for cue, _ in cues):
            DraftMark().draw(canvas)
        return canvas.marks

    def _scene(self, look: Look, athlete: _Athlete) -> Scene:
        clip_s = look.clip_us / 1e6
        affine = self._table.affines[look.affine]
        points = athlete.pose.points(clip_s)
        places = to_screen(affine, np.stack(list(points.values()))).tolist()
        joints = {name: (x, y) for name, (x, y) in zip(points, places, strict=True)}
        drawn = tuple(Box(*self._areas[i].box_px) for i in look.drawn)
        covered = tuple(Box(*self._windows[i].box_px) for i in look.covered)
        return Scene(
            clip_s=clip_s,
            affine=affine,
            joints=joints,
            seen=Box(*(float(v) - CENTRE for v in self._table.seen_px[look.affine])),
            presence=look.presence / STEPS,
            thin=look.thin / STEPS,
            drawn=drawn,
            covered=covered,
        )


def _keep_out(canvas: Canvas, scene: Scene, face: Array) -> tuple[Box | Circle, ...]:
    """What plates must not cover; `face` is centre and radius in clip pixels, NaN = not known."""
    keep: list[Box | Circle] = [*scene.drawn, *scene.covered]
    if known(scene.joints["handle"]):
        keep.append(Circle(scene.joints["handle"], 16 * canvas.unit))
    if np.isfinite(face).all():
        x, y = to_screen(scene.affine, face[:2])
        radius = float(face[2]) * scale_of(scene.affine) * 1.1
        keep.append(Circle((float(x), float(y)), radius))
    return (*keep, *limb_circles(scene.joints, canvas.unit))


class _Athlete:
    """What is drawn of the athlete, frame after frame."""

    def __init__(self, technique: Technique) -> None:
        self._body = technique.body
        self.pose = Pose(technique.body)
        self.marks = AthleteMarks(technique, self.pose)
        self.plates = Plates(self.pose, technique.body.facing)

    def face(self, clip_s: float) -> Array:
        """(3,) centre and radius in clip pixels; NaN = not known."""
        columns = [np.interp(clip_s, self._body.time_s, c) for c in self._body.face_px.T]
        return np.array(columns)
