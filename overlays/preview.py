"""Previews: every overlay over a drawn rower, or over a picture of your own.

The drawn rower sits at the catch on a plain background; no photograph is needed or shipped.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from overlays.canvas import Canvas, Circle, Overlay, Pixels, Point
from overlays.caption import Caption, DraftMark
from overlays.cards import EndCard, TitleCard
from overlays.faces import FaceBlur
from overlays.fan import AngleFan
from overlays.layout import place
from overlays.lines import KneePlumb, LimbLines, ShoulderHandleLine
from overlays.panel import SideBySide
from overlays.plate import Callout, NumberPlate
from overlays.strips import PhaseStrip, RecoveryOrder
from overlays.trail import HandDrop, HandleTrail

SCENE = (1280.0, 720.0)
JOINTS: dict[str, Point] = {
    "ear": (722, 214),
    "shoulder": (706, 306),
    "elbow": (822, 350),
    "wrist": (926, 368),
    "handle": (948, 372),
    "hip": (622, 500),
    "knee": (842, 384),
    "ankle": (858, 530),
    "toe": (928, 508),
    "flywheel": (1064, 430),
}
"""The drawn rower, in pixels of a 1280 x 720 scene."""


class Scene:
    """The drawn rower fitted to a picture.

    Attributes:
        width: Of the picture.
        height: Of the picture.
        scale: Picture pixels per scene pixel.
    """

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        # An upright picture shows the rower larger and cuts the scene's sides off.
        self.scale = max(min(width / SCENE[0], height / SCENE[1]), min(width / 780, height / 1000))
        self._shift = (width / 2 - 775 * self.scale, height / 2 - 372 * self.scale)
        if width > height:
            self._shift = (width / 2 - 640 * self.scale, height / 2 - 360 * self.scale)

    def at(self, x: float, y: float) -> Point:
        """A scene position in the picture."""
        return x * self.scale + self._shift[0], y * self.scale + self._shift[1]

    def joint(self, name: str) -> Point:
        """A joint in the picture."""
        return self.at(*JOINTS[name])

    def trail(self) -> NDArray[np.float64]:
        """The handle's path up to now, (40, 2), oldest first."""
        share = np.linspace(0, 1, 40)
        x = 640 + 308 * share
        y = 372 - 34 * np.sin(np.pi * share) * (share < 0.995) + 4 * np.sin(9 * share)
        return np.array([self.at(*point) for point in zip(x, y, strict=True)])


def background(width: int, height: int) -> Pixels:
    """The drawn rower, (h, w, 3) B G R."""
    scene = Scene(width, height)
    wall = np.linspace((176, 168, 156), (214, 208, 200), height)[:, None, :]
    picture = np.broadcast_to(wall, (height, width, 3)).astype(np.uint8).copy()
    floor = max(0, round(scene.at(0, 590)[1]))
    picture[floor:] = (96, 104, 112)
    for x in range(-600, 2000, 220):
        _box(picture, scene, (x, -300, x + 90, 330), (232, 226, 214))
    _box(picture, scene, (300, 556, 1060, 572), (70, 68, 66))
    _box(picture, scene, (560, 532, 690, 552), (48, 46, 44))
    _disc(picture, scene, JOINTS["flywheel"], 92, (58, 56, 54))
    _disc(picture, scene, JOINTS["flywheel"], 78, (84, 80, 76))
    _limb(picture, scene, ("handle", "flywheel"), 4, (60, 60, 60))
    _limb(picture, scene, ("hip", "knee"), 58, (86, 58, 40))
    _limb(picture, scene, ("knee", "ankle"), 40, (132, 160, 204))
    _limb(picture, scene, ("ankle", "toe"), 26, (52, 52, 58))
    _limb(picture, scene, ("hip", "shoulder"), 84, (120, 76, 52))
    _limb(picture, scene, ("shoulder", "ear"), 36, (132, 160, 204))
    _disc(picture, scene, (738, 212), 46, (132, 160, 204))
    _disc(picture, scene, (724, 190), 42, (40, 44, 58))
    _disc(picture, scene, (762, 206), 5, (48, 48, 60))
    _limb(picture, scene, ("shoulder", "elbow"), 32, (140, 168, 210))
    _limb(picture, scene, ("elbow", "wrist"), 26, (140, 168, 210))
    _disc(picture, scene, JOINTS["handle"], 12, (36, 36, 36))
    return picture


def sample(name: str, canvas: Canvas) -> Overlay:
    """An overlay of a kind with values that suit the drawn rower.

    Raises:
        KeyError: No such kind.
    """
    return SAMPLES[name](canvas, Scene(canvas.width, canvas.height))


def _fan(canvas: Canvas, scene: Scene) -> Overlay:
    fan = AngleFan(
        vertex=scene.joint("hip"), tip=scene.joint("shoulder"), text="lean 23°", accent="keep"
    )
    keep_out = [Circle(scene.at(735, 205), 62 * scene.scale)]
    keep_out.append(Circle(scene.joint("handle"), 24 * scene.scale))
    placed = place(
        [fan.plate_wish(canvas, "fan")],
        size=(canvas.width, canvas.height),
        keep_out=keep_out,
        lines=fan.lines(canvas),
    )
    return replace(fan, plate=placed.corner("fan"))


def _callout(canvas: Canvas, scene: Scene) -> Overlay:
    remark = Callout(
        text="Shins vertical, heels just off the plate",
        corner=(0.0, 0.0),
        target=scene.joint("knee"),
        accent="keep",
    )
    left = canvas.safe.right - remark.size(canvas)[0]
    top = scene.at(0, 60)[1] if canvas.width > canvas.height else canvas.height * 0.12
    return replace(remark, corner=(left, top))


def _panel(_: Canvas, __: Scene) -> Overlay:
    picture = background(960, 720)
    return SideBySide(
        left=picture,
        right=np.ascontiguousarray(picture),
        left_label="stroke 3",
        right_label="stroke 8",
        left_angles=("lean 23°",),
        right_angles=("lean 31°",),
        title="The catch, five strokes apart",
        left_accent="change",
        right_accent="keep",
    )


SAMPLES: dict[str, Callable[[Canvas, Scene], Overlay]] = {
    "angle_fan": _fan,
    "callout": _callout,
    "caption": lambda canvas, scene: Caption(
        lines=("Let the hands go away first,", "then the body, then the knees.")
    ),
    "draft_mark": lambda canvas, scene: DraftMark(),
    "end_card": lambda canvas, scene: EndCard(
        title="This week on the erg",
        lines=("Keep: shins vertical at the catch", "Change: hands away before the knees"),
        series="Stroke Surgery",
        accent="change",
    ),
    "face_blur": lambda canvas, scene: FaceBlur(
        centre=scene.at(738, 205), radius=(52 * scene.scale, 62 * scene.scale)
    ),
    "hand_drop": lambda canvas, scene: HandDrop(
        level=scene.at(770, 318), hand=scene.joint("handle"), text="hands drop"
    ),
    "handle_trail": lambda canvas, scene: HandleTrail(points=scene.trail()),
    "knee_plumb": lambda canvas, scene: KneePlumb(
        ankle=scene.joint("ankle"), knee=scene.joint("knee"), text="shin 6° short"
    ),
    "limb_lines": lambda canvas, scene: LimbLines(
        chains=(
            [scene.joint(name) for name in ("shoulder", "hip", "knee", "ankle", "toe")],
            [scene.joint(name) for name in ("shoulder", "elbow", "wrist")],
        )
    ),
    "number_plate": lambda canvas, scene: NumberPlate(
        text="layback 25°", corner=(canvas.safe.left, scene.at(0, 120)[1]), accent="change"
    ),
    "phase_strip": lambda canvas, scene: PhaseStrip(drive_s=0.9, recovery_s=1.6, now_s=1.3),
    "recovery_order": lambda canvas, scene: RecoveryOrder(
        arms=(0.0, 0.32), body=(0.2, 0.6), legs=(0.42, 1.0), now=0.5
    ),
    "shoulder_handle": lambda canvas, scene: ShoulderHandleLine(
        shoulder=scene.joint("shoulder"), handle=scene.joint("handle"), text="long arms"
    ),
    "side_by_side": _panel,
    "title_card": lambda canvas, scene: TitleCard(
        title="Sit tall, then swing",
        subtitle="Freddie's catch and finish",
        series="Stroke Surgery",
    ),
}


def _limb(
    picture: Pixels, scene: Scene, ends: tuple[str, str], width: float, bgr: tuple[int, int, int]
) -> None:
    start, end = (_whole(scene.joint(name)) for name in ends)
    thick = max(1, round(width * scene.scale))
    cv2.line(picture, start, end, bgr, thick, cv2.LINE_AA)


def _disc(
    picture: Pixels, scene: Scene, centre: Point, radius: float, bgr: tuple[int, int, int]
) -> None:
    size = max(1, round(radius * scene.scale))
    cv2.circle(picture, _whole(scene.at(*centre)), size, bgr, cv2.FILLED, cv2.LINE_AA)


def _box(
    picture: Pixels,
    scene: Scene,
    edges: tuple[float, float, float, float],
    bgr: tuple[int, int, int],
) -> None:
    corners = (_whole(scene.at(*edges[:2])), _whole(scene.at(*edges[2:])))
    cv2.rectangle(picture, *corners, bgr, cv2.FILLED)


def _whole(point: Point) -> tuple[int, int]:
    return round(point[0]), round(point[1])
