"""Title and end cards as program frames."""

from __future__ import annotations

from collections.abc import Iterator

import av
import numpy as np

from overlays import Canvas, EndCard, TitleCard, blend_bgr
from studio.deliver.assemble import card_frames
from studio.deliver.planes import Coding, from_bgr
from studio.model.arrays import Array
from studio.model.plan import EditPlan, Shot


class Cards:
    """Makes the frames of a plan's card shots, in order."""

    def __init__(self, plan: EditPlan, coding: Coding) -> None:
        self._plan, self._coding = plan, coding
        self._frames: Iterator[Array] = iter(())
        self._shot: Shot | None = None

    def frame(self, shot: Shot, step: int) -> av.VideoFrame:
        """The frame number `step` of a card shot; steps of one shot must come in order."""
        if self._shot is not shot or step == 0:
            self._shot = shot
            rate = float(self._plan.frame_rate)
            picture = np.ascontiguousarray(card_picture(self._plan, shot)[..., ::-1])
            self._frames = iter(card_frames(picture, float(shot.duration_s), rate))
        rgb = next(self._frames)
        return from_bgr(np.ascontiguousarray(rgb[..., ::-1]), self._coding)


def card_picture(plan: EditPlan, shot: Shot) -> Array:
    """(h, w, 3) uint8 BGR: a card at full strength."""
    image = np.zeros((plan.height_px, plan.width_px, 3), np.uint8)
    canvas = Canvas(plan.width_px, plan.height_px)
    words = _words(plan, shot)
    if shot.card == "title":
        TitleCard(title=words["title"], subtitle=words["subtitle"], series=words["series"]).draw(
            canvas
        )
    else:
        lines = tuple(line for line in words["lines"].split("\n") if line)
        EndCard(title=words["title"], lines=lines, series=words["series"]).draw(canvas)
    blend_bgr(image, canvas.marks)
    return image


def _words(plan: EditPlan, shot: Shot) -> dict[str, str]:
    start = float(shot.program_start_s)
    kind = f"{shot.card}_card"
    found = [c for c in plan.overlays if c.kind == kind and abs(c.start_s - start) < 1e-3]
    words = {key: str(value) for key, value in found[0].params.items()} if found else {}
    return {name: words.get(name, "") for name in ("title", "subtitle", "series", "lines")}
