"""The side-by-side hold: two moments, their angles under them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from overlays.canvas import Box, Canvas, Patch, Pixels
from overlays.lettering import BOLD, measure
from overlays.palette import INK, PAPER, Accent
from overlays.plate import coverage, draw_plate, ground, plate_size, write

GAP = 0.02
"""Between the pictures and around them, over the shorter side."""
TITLE_SHARE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideBySide:
    """Two stroke pictures beside each other (one above the other in an upright picture).

    Attributes:
        left: (h, w, 3) uint8 B G R: the first picture, overlays already drawn into it.
        right: The second.
        left_label: Plain words for the first, such as "stroke 3".
        right_label: For the second.
        left_angles: Plate texts under the first, at most three.
        right_angles: Under the second.
        title: Across the top; "" for none.
        left_accent: Of the first's plates.
        right_accent: Of the second's.
    """

    left: Pixels
    right: Pixels
    left_label: str
    right_label: str
    left_angles: tuple[str, ...] = ()
    right_angles: tuple[str, ...] = ()
    title: str = ""
    left_accent: Accent = "neutral"
    right_accent: Accent = "neutral"

    def draw(self, canvas: Canvas) -> None:
        """Add the whole-picture ground with both pictures, then labels and plates."""
        boxes = self._boxes(canvas)
        rgba = np.empty((canvas.height, canvas.width, 4), np.uint8)
        rgba[:] = (*INK, 255)
        for box, picture in zip(boxes, (self.left, self.right), strict=True):
            _set(rgba, box, picture, canvas.unit)
        canvas.add(Patch(0, 0, rgba))
        if self.title:
            heading = _heading(self.title, round(canvas.text * 1.1), canvas.width)
            x = (canvas.width - heading.rgba.shape[1]) // 2
            canvas.add(heading.moved(x, round(canvas.safe.top)))
        sides = (
            (self.left_label, self.left_angles, self.left_accent),
            (self.right_label, self.right_angles, self.right_accent),
        )
        for box, (label, angles, accent) in zip(boxes, sides, strict=True):
            self._label(canvas, box, label)
            self._angles(canvas, box, angles, accent)

    def _label(self, canvas: Canvas, box: Box, label: str) -> None:
        if label:
            inset = 10 * canvas.unit
            left = max(box.left + inset, canvas.safe.left)
            draw_plate(canvas, (label,), (left, box.top + inset), None)

    def _angles(self, canvas: Canvas, box: Box, angles: tuple[str, ...], accent: Accent) -> None:
        """Plates in rows from the picture's lower left, wrapping upward."""
        inset = 10 * canvas.unit
        left = max(box.left + inset, canvas.safe.left)
        right = min(box.right - inset, canvas.safe.right)
        x, y = left, min(box.bottom - inset, canvas.safe.bottom)
        for text in angles:
            width, height = plate_size(canvas, (text,))
            if x > left and x + width > right:
                x, y = left, y - height - inset
            draw_plate(canvas, (text,), (x, y - height), accent)
            x += width + inset

    def _boxes(self, canvas: Canvas) -> tuple[Box, Box]:
        gap = GAP * min(canvas.width, canvas.height)
        top = canvas.safe.top + canvas.text * 1.7 if self.title else gap
        bottom = canvas.height - gap
        if canvas.height > canvas.width:
            middle = (top + bottom) / 2
            return (
                Box(gap, top, canvas.width - gap, middle - gap / 2),
                Box(gap, middle + gap / 2, canvas.width - gap, bottom),
            )
        middle = canvas.width / 2
        return (
            Box(gap, top, middle - gap / 2, bottom),
            Box(middle + gap / 2, top, canvas.width - gap, bottom),
        )


def _set(rgba: Pixels, box: Box, picture: Pixels, unit: float) -> None:
    """Lay a picture into a box with rounded corners, cropped evenly to the box's shape."""
    left, top, right, bottom = (round(edge) for edge in box)
    width, height = right - left, bottom - top
    scale = max(width / picture.shape[1], height / picture.shape[0])
    across, down = min(picture.shape[1], width / scale), min(picture.shape[0], height / scale)
    x, y = (picture.shape[1] - across) / 2, (picture.shape[0] - down) / 2
    crop = picture[round(y) : round(y + down), round(x) : round(x + across)]
    style = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    shown = cv2.cvtColor(cv2.resize(crop, (width, height), interpolation=style), cv2.COLOR_BGR2RGB)
    cover = coverage(ground((height, width), 10 * unit, 1.0))[..., None]
    target = rgba[top:bottom, left:right, :3]
    target[...] = np.rint(shown * cover + target * (1 - cover)).astype(np.uint8)


@lru_cache(maxsize=8)
def _heading(text: str, size: int, across: int) -> Patch:
    while measure(text, size, BOLD) > across * 0.9 and size > 10:
        size -= 1
    width = round(measure(text, size, BOLD)) + 4
    rgba = np.zeros((round(size * 1.4), width, 4), np.float32)
    write(rgba, text, size, (2, size), PAPER, BOLD)
    return Patch(0, 0, np.rint(rgba).astype(np.uint8))
