"""A look to marks: the overlays of one frame, locked to the athlete."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from overlays import (
    Accent,
    AngleFan,
    Box,
    Callout,
    Canvas,
    Circle,
    DraftMark,
    HandDrop,
    HandleTrail,
    KneePlumb,
    LimbLines,
    Mark,
    NumberPlate,
    Patch,
    PhaseStrip,
    Placed,
    Point,
    RecoveryOrder,
    ShoulderHandleLine,
    place,
)
from overlays.canvas import known
from overlays.layout import overlap
from overlays.wording import angle_text
from studio.deliver.layers import STEPS, Active, Look
from studio.deliver.onscreen import CENTRE, OnScreen, Pose, scale_of, to_screen
from studio.deliver.strokes import StrokeClock
from studio.model.arrays import Array
from studio.model.plan import EditPlan, OverlayCue
from studio.model.playhead import Playhead
from studio.model.technique import Technique

MOST_ANGLES = 3
"""More angles at once and none is read (docs/design)."""
CHAINS = (("shoulder", "hip", "knee", "ankle", "toe"), ("shoulder", "elbow", "wrist"))
RAYS: dict[str, tuple[str, str, str | None]] = {
    "trunk": ("hip", "shoulder", None),
    "shin": ("ankle", "knee", None),
    "knee": ("knee", "ankle", "hip"),
    "elbow": ("elbow", "wrist", "shoulder"),
    "hip": ("hip", "shoulder", "knee"),
}
"""Angle -> vertex, tip, and the other limb's end (None = the plumb line)."""
TRAIL_S = 0.9
"""Real seconds of handle path behind the hands: one drive, or half a recovery."""
TRAIL_POINTS = 36
LIMB_SHARES = (0.1, 0.37, 0.63, 0.9)
LIMB_RADIUS = 14.0
"""Kept clear around a limb's axis, design units (half of plate height)."""
LEAST_DROP = 0.012
"""A drop of the hands smaller than this share of the picture's height is not pointed at."""


@dataclass
class Scene:
    """The frame being drawn: where the body is, and what must stay clear."""

    clip_s: float
    affine: Array
    joints: dict[str, Point]
    seen: Box
    presence: float
    thin: float
    drawn: tuple[Box, ...]
    covered: tuple[Box, ...]
    keep_out: tuple[Box | Circle, ...]

    def free_below(self) -> tuple[float, float]:
        """Left and right of the lowest fifth of the clip's picture that no window covers."""
        left, right = self.seen.left, self.seen.right
        for box in self.covered:
            low = box.bottom > self.seen.bottom - self.seen.height / 5
            if not low or box.right <= left or box.left >= right:
                continue
            if box.centre[0] < self.seen.centre[0]:
                left = max(left, box.right)
            else:
                right = min(right, box.left)
        return left, right


class Drawing:
    """Draws looks, one after another, remembering where the plates were."""

    def __init__(
        self,
        plan: EditPlan,
        table: OnScreen,
        technique: Technique | None,
        playhead: Playhead | None,
    ) -> None:
        self._plan, self._table, self._technique = plan, table, technique
        self._pose = Pose(technique.body) if technique else None
        self._strokes = StrokeClock(technique) if technique else None
        self._areas = playhead.drawn if playhead else ()
        self._windows = playhead.covered if playhead else ()
        self._placed: Placed | None = None
        self._last: tuple[Look, list[Mark]] | None = None

    def marks(self, look: Look) -> list[Mark]:
        """The marks of a look, in the order to blend; the same objects for an equal look."""
        if self._last is None or self._last[0] != look:
            self._last = (look, self._draw(look))
        return self._last[1]

    def _draw(self, look: Look) -> list[Mark]:
        canvas = Canvas(self._plan.width_px, self._plan.height_px)
        cues = [(self._plan.overlays[a.cue], a) for a in look.active]
        if look.affine >= 0 and look.presence and self._pose is not None:
            self._body(canvas, self._scene(look), cues)
        if any(cue.kind == "draft_mark" for cue, _ in cues):
            DraftMark().draw(canvas)
        return canvas.marks

    def _scene(self, look: Look) -> Scene:
        assert self._pose is not None
        clip_s = look.clip_us / 1e6
        affine = self._table.affines[look.affine]
        seen = Box(*(float(v) - CENTRE for v in self._table.seen_px[look.affine]))
        drawn = tuple(Box(*self._areas[i].box_px) for i in look.drawn)
        covered = tuple(Box(*self._windows[i].box_px) for i in look.covered)
        keep: list[Box | Circle] = [*drawn, *covered]
        joints = {
            name: (float(x), float(y))
            for name, (x, y) in (
                (n, to_screen(affine, p)) for n, p in self._pose.points(clip_s).items()
            )
        }
        if known(joints["handle"]):
            keep.append(Circle(joints["handle"], 16 * self._unit))
        face = self._face(clip_s)
        if np.isfinite(face).all():
            x, y = to_screen(affine, face[:2])
            keep.append(Circle((float(x), float(y)), float(face[2]) * scale_of(affine) * 1.1))
        keep += limb_circles(joints, self._unit)
        share = look.presence / STEPS
        return Scene(
            clip_s, affine, joints, seen, share, look.thin / STEPS, drawn, covered, tuple(keep)
        )

    @property
    def _unit(self) -> float:
        return min(self._plan.width_px, self._plan.height_px) / 720

    def _face(self, clip_s: float) -> Array:
        assert self._technique is not None
        body = self._technique.body
        columns = [np.interp(clip_s, body.time_s, body.face_px[:, i]) for i in range(3)]
        return np.array(columns)

    def _body(self, canvas: Canvas, scene: Scene, cues: list[tuple[OverlayCue, Active]]) -> None:
        """Everything that is locked to the athlete, from below to above."""
        under = (1 - scene.thin) * scene.presence
        parts: dict[str, Callable[[Canvas, Scene, str, float], None]] = {
            "limb_lines": self._limbs,
            "handle_trail": self._trail,
            "shoulder_handle": self._pull,
            "knee_plumb": self._plumb,
            "phase_strip": self._strip,
            "recovery_order": self._order,
        }
        for kind, part in parts.items():
            found = [(c, a) for c, a in cues if c.kind == kind]
            if found:
                cue, active = found[-1]
                calm = scene.presence if kind in ("phase_strip", "recovery_order") else under
                part(canvas, scene, cue.accent, calm * active.opacity / STEPS)
        self._plates(canvas, scene, cues)

    def _limbs(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        chains = [[scene.joints[n] for n in chain] for chain in CHAINS]
        LimbLines(chains=chains, accent=_accent(accent), opacity=opacity).draw(canvas)

    def _trail(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        assert self._pose is not None
        assert self._technique is not None
        length = TRAIL_S * (self._technique.time_factor or 1.0)
        times = np.linspace(scene.clip_s - length, scene.clip_s, TRAIL_POINTS)
        times = times[times >= self._technique.body.time_s[0]]
        points = to_screen(scene.affine, self._pose.path("handle", times))
        HandleTrail(points=points, accent=_accent(accent), opacity=opacity).draw(canvas)
        self._drop(canvas, scene, opacity)

    def _drop(self, canvas: Canvas, scene: Scene, opacity: float) -> None:
        """Where the hands were at the catch, while the drive is on and they are below it."""
        assert self._strokes is not None
        moment = self._strokes.at(scene.clip_s)
        if moment is None or not moment.driving or moment.now_s > moment.drive_s / 2:
            return
        assert self._pose is not None
        catch = np.array([scene.clip_s - moment.now_s])
        x, y = to_screen(scene.affine, self._pose.path("handle", catch))[0]
        start, hand = (float(x), float(y)), scene.joints["handle"]
        if hand[1] - start[1] > LEAST_DROP * self._plan.height_px:
            HandDrop(level=start, hand=hand, accent="change", opacity=opacity).draw(canvas)

    def _pull(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        ends = [scene.joints[n] for n in ("shoulder", "handle")]
        ShoulderHandleLine(
            shoulder=ends[0], handle=ends[1], accent=_accent(accent), opacity=opacity
        ).draw(canvas)

    def _plumb(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        ends = [scene.joints[n] for n in ("ankle", "knee")]
        KneePlumb(ankle=ends[0], knee=ends[1], accent=_accent(accent), opacity=opacity).draw(canvas)

    def _strip(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        """Along the bottom of the clip's own picture, so that a player's controls stay free."""
        assert self._strokes is not None
        moment = self._strokes.at(scene.clip_s)
        left, right = scene.free_below()
        if moment is None or right - left < canvas.width / 3:
            return
        inner = Canvas(round(right - left), round(scene.seen.height))
        PhaseStrip(
            drive_s=moment.drive_s,
            recovery_s=moment.recovery_s,
            now_s=moment.now_s,
            accent=_accent(accent),
            opacity=opacity,
        ).draw(inner)
        x, y = round(left), round(scene.seen.top)
        strip = [m.moved(m.x + x, m.y + y).box for m in inner.marks if isinstance(m, Patch)]
        scene.keep_out = (*scene.keep_out, *strip)
        _lay(canvas, inner.marks, x, y)

    def _order(self, canvas: Canvas, scene: Scene, accent: str, opacity: float) -> None:
        assert self._strokes is not None
        order = self._strokes.recovery(scene.clip_s)
        if order is None or scene.seen.width < canvas.width / 3:
            return
        inner = Canvas(round(scene.seen.width), round(scene.seen.height))
        RecoveryOrder(
            arms=order.arms,
            body=order.body,
            legs=order.legs,
            now=order.now,
            accent=_accent(accent),
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

    @property
    def _facing(self) -> str:
        assert self._technique is not None
        return self._technique.body.facing

    def _plates(self, canvas: Canvas, scene: Scene, cues: list[tuple[OverlayCue, Active]]) -> None:
        """The label of the point and the fans with their plates, out of each other's way."""
        label = self._label(canvas, scene, cues)
        if label is not None:
            label.draw(canvas)
            scene.keep_out = (*scene.keep_out, _box(label, canvas))
        fans = self._fans(scene, cues)
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

    def _fans(self, scene: Scene, cues: list[tuple[OverlayCue, Active]]) -> dict[str, AngleFan]:
        """At most three, those of what is being said first; each angle once."""
        assert self._pose is not None
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
                accent=_accent(cue.accent),
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
            accent=_accent(cue.accent),
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


def limb_circles(joints: dict[str, Point], unit: float) -> list[Circle]:
    """Small circles along the limbs: plates keep off the body where they can."""
    found = []
    for chain in CHAINS:
        for first, second in pairwise(chain):
            (ax, ay), (bx, by) = joints[first], joints[second]
            if known((ax, ay), (bx, by)):
                found += [
                    Circle((ax + (bx - ax) * s, ay + (by - ay) * s), LIMB_RADIUS * unit)
                    for s in LIMB_SHARES
                ]
    return found


def _accent(name: str) -> Accent:
    if name == "keep":
        return "keep"
    return "change" if name == "change" else "neutral"


def _reach(fan: AngleFan) -> Box:
    points = [fan.vertex, fan.tip]
    xs, ys = zip(*points, strict=True)
    return Box(min(xs) - 8, min(ys) - 8, max(xs) + 8, max(ys) + 8)


def _lay(canvas: Canvas, marks: list[Mark], x: int, y: int) -> None:
    for mark in marks:
        if isinstance(mark, Patch):
            canvas.add(mark.moved(mark.x + x, mark.y + y))
