"""What is locked to the athlete: limbs, the handle's path, the pull, and the stroke's strips."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from overlays import (
    Canvas,
    HandDrop,
    HandleTrail,
    LimbLines,
    Mark,
    Patch,
    PhaseStrip,
    RecoveryOrder,
    ShoulderHandleLine,
)
from studio.deliver.layers import STEPS, Active
from studio.deliver.onscreen import Pose, to_screen
from studio.deliver.scene import CHAINS, Scene, accent_of
from studio.deliver.strokes import StrokeClock
from studio.model.plan import OverlayCue
from studio.model.technique import Technique

_Part = Callable[[Canvas, Scene, str, float], None]
TRAIL_S = 0.9
"""Real seconds of handle path behind the hands: one drive, or half a recovery."""
TRAIL_POINTS = 36
LEAST_DROP = 0.012
"""A drop of the hands smaller than this share of the picture's height is not pointed at."""


class AthleteMarks:
    """Draws them for one clip."""

    def __init__(self, technique: Technique, pose: Pose) -> None:
        self._pose, self._strokes = pose, StrokeClock(technique)
        self._time_factor = technique.time_factor or 1.0
        self._start_s, self._facing = technique.body.time_s[0], technique.body.facing
        # from below to above; what lies on the body makes way for the coach's own drawing
        self._on_body: dict[str, _Part] = {
            "limb_lines": self._limbs,
            "handle_trail": self._trail,
            "shoulder_handle": self._pull,
        }
        self._beside: dict[str, _Part] = {
            "phase_strip": self._strip,
            "recovery_order": self._order,
        }

    def draw(self, canvas: Canvas, scene: Scene, cues: list[tuple[OverlayCue, Active]]) -> None:
        """Add what is asked for; the last cue of a kind counts."""
        last = {cue.kind: (cue, active) for cue, active in cues}
        thinned = (1 - scene.thin) * scene.presence
        for parts, presence in ((self._on_body, thinned), (self._beside, scene.presence)):
            for kind, part in parts.items():
                if kind in last:
                    cue, active = last[kind]
                    part(canvas, scene, cue.accent, presence * active.opacity / STEPS)

    def _limbs(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        chains = [[scene.joints[n] for n in chain] for chain in CHAINS]
        LimbLines(chains=chains, accent=accent_of(accent), opacity=opacity).draw(canvas)

    def _trail(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        length = TRAIL_S * (self._time_factor)
        times = np.linspace(scene.clip_s - length, scene.clip_s, TRAIL_POINTS)
        times = times[times >= self._start_s]
        points = to_screen(scene.affine, self._pose.path("handle", times))
        HandleTrail(points=points, accent=accent_of(accent), opacity=opacity).draw(canvas)
        self._drop(canvas, scene, opacity)

    def _drop(self, canvas: Canvas, scene: Scene, opacity: float) -> None:
        """Where the hands were at the catch, while the drive is on and they are below it."""
        moment = self._strokes.at(scene.clip_s)
        if moment is None or not moment.driving or moment.now_s > moment.drive_s / 2:
            return
        catch = np.array([scene.clip_s - moment.now_s])
        x, y = to_screen(scene.affine, self._pose.path("handle", catch))[0]
        start, hand = (float(x), float(y)), scene.joints["handle"]
        if hand[1] - start[1] > LEAST_DROP * canvas.height:
            HandDrop(level=start, hand=hand, accent="change", opacity=opacity).draw(canvas)

    def _pull(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        ends = [scene.joints[n] for n in ("shoulder", "handle")]
        ShoulderHandleLine(
            shoulder=ends[0], handle=ends[1], accent=accent_of(accent), opacity=opacity
        ).draw(canvas)

    def _strip(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        """Along the bottom of the clip's own picture, so that a player's controls stay free."""
        moment = self._strokes.at(scene.clip_s)
        left, right = scene.free_below()
        if moment is None or right - left < canvas.width / 3:
            return
        inner = Canvas(round(right - left), round(scene.seen.height))
        PhaseStrip(
            drive_s=moment.drive_s,
            recovery_s=moment.recovery_s,
            now_s=moment.now_s,
            accent=accent_of(accent),
            opacity=opacity,
        ).draw(inner)
        x, y = round(left), round(scene.seen.top)
        strip = [m.moved(m.x + x, m.y + y).box for m in inner.marks if isinstance(m, Patch)]
        scene.keep_out = (*scene.keep_out, *strip)
        _lay(canvas, inner.marks, x, y)

    def _order(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        order = self._strokes.recovery(scene.clip_s)
        if order is None or scene.seen.width < canvas.width / 3:
            return
        inner = Canvas(round(scene.seen.width), round(scene.seen.height))
        RecoveryOrder(
            arms=order.arms,
            body=order.body,
            legs=order.legs,
            now=order.now,
            accent=accent_of(accent),
            opacity=opacity,
        ).draw(inner)
        x, y = round(scene.seen.left), round(scene.seen.top)
        panel = inner.marks[0] if inner.marks else None
        if isinstance(panel, Patch):
            if self._facing == "right":  # the flywheel's side is where nobody's head is
                x += round(inner.safe.right - panel.box.right)
            moved = panel.moved(panel.x + x, panel.y + y)
            scene.keep_out = (*scene.keep_out, moved.box)
        _lay(canvas, inner.marks, x, y)


def _lay(canvas: Canvas, marks: list[Mark], x: int, y: int) -> None:
    for mark in marks:
        if isinstance(mark, Patch):
            canvas.add(mark.moved(mark.x + x, mark.y + y))
