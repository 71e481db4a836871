"""Overlays that teach: drawing for rowing technique video, usable on its own.

Make a `Canvas` the size of the picture, let overlays draw on it, and blend its marks into the
picture:

    canvas = Canvas(1280, 720)
    AngleFan(vertex=(560, 470), tip=(640, 280), text="lean 23°").draw(canvas)
    blend_bgr(picture, canvas.marks)

See docs/overlays.md.
"""

from __future__ import annotations

from overlays import layout, motion, palette, wording
from overlays.blend import blend_bgr, blend_yuv420, lay_yuv420, prepare_yuv420
from overlays.canvas import Blur, Box, Canvas, Circle, Mark, Overlay, Patch, Point, Strokes
from overlays.caption import Caption, DraftMark
from overlays.cards import EndCard, TitleCard
from overlays.faces import FaceBlur
from overlays.fan import AngleFan
from overlays.layout import Placed, Wish, place
from overlays.lines import KneePlumb, LimbLines, ShoulderHandleLine
from overlays.palette import Accent
from overlays.panel import SideBySide
from overlays.plate import Callout, NumberPlate
from overlays.strips import PhaseStrip, RecoveryOrder
from overlays.trail import HandDrop, HandleTrail

REGISTRY: dict[str, type[Overlay]] = {
    "angle_fan": AngleFan,
    "callout": Callout,
    "caption": Caption,
    "draft_mark": DraftMark,
    "end_card": EndCard,
    "face_blur": FaceBlur,
    "hand_drop": HandDrop,
    "handle_trail": HandleTrail,
    "knee_plumb": KneePlumb,
    "limb_lines": LimbLines,
    "number_plate": NumberPlate,
    "phase_strip": PhaseStrip,
    "recovery_order": RecoveryOrder,
    "shoulder_handle": ShoulderHandleLine,
    "side_by_side": SideBySide,
    "title_card": TitleCard,
}
"""Every overlay by the name edit plans and the command line use."""

__all__ = [
    "REGISTRY",
    "Accent",
    "AngleFan",
    "Blur",
    "Box",
    "Callout",
    "Canvas",
    "Caption",
    "Circle",
    "DraftMark",
    "EndCard",
    "FaceBlur",
    "HandDrop",
    "HandleTrail",
    "KneePlumb",
    "LimbLines",
    "Mark",
    "NumberPlate",
    "Overlay",
    "Patch",
    "PhaseStrip",
    "Placed",
    "Point",
    "RecoveryOrder",
    "ShoulderHandleLine",
    "SideBySide",
    "Strokes",
    "TitleCard",
    "Wish",
    "blend_bgr",
    "blend_yuv420",
    "lay_yuv420",
    "layout",
    "motion",
    "palette",
    "place",
    "prepare_yuv420",
    "wording",
]
