"""Putting marks into a picture, in place and only where something was drawn.

Patches are premultiplied, so blending is `picture * (1 - alpha) + patch` in any linear colour form.
Turning RGB into Y'CbCr is linear too: a premultiplied patch becomes premultiplied Y, Cb and Cr, the
black level and the chroma centre scaled by alpha, and chroma may be averaged over 2 x 2 pixels.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Literal, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from overlays.canvas import Blur, Mark, Patch, Pixels, Strokes
from overlays.faces import blur_ellipse, blur_ellipse_yuv420
from overlays.ink import draw_parts
from overlays.palette import Rgb

Matrix = Literal["bt709", "bt601"]

LUMA_WEIGHTS: dict[str, tuple[float, float]] = {
    "bt709": (0.2126, 0.0722),
    "bt601": (0.299, 0.114),
}
"""Kr and Kb: Rec. ITU-R BT.709-6 section 3.2, BT.601-7 section 2.5.1."""


NOTHING = (0.0, 0.0, 0.0, 0.0)


class Planes(NamedTuple):
    """One patch in the form the planes need, on even pixels of the picture."""

    y: Pixels
    uv: tuple[Pixels, Pixels]
    keep_y: Pixels
    keep_uv: Pixels


def blend_bgr(image: Pixels, marks: Iterable[Mark]) -> None:
    """Draw marks into a picture, in place.

    Args:
        image: (h, w, 3) uint8, B G R, writable.
        marks: In the order to draw.
    """
    for mark in marks:
        if isinstance(mark, Blur):
            blur_ellipse(image, mark)
            continue
        if isinstance(mark, Strokes):
            draw_parts([(image, lambda rgb: rgb[::-1])], mark.parts)
            continue
        found = _visible(mark, image.shape[1], image.shape[0])
        if found is None:
            continue
        x, y, rgba = found
        target = image[y : y + rgba.shape[0], x : x + rgba.shape[1]]
        keep = cv2.bitwise_not(cv2.extractChannel(rgba, 3))
        under = cv2.multiply(target, cv2.merge((keep, keep, keep)), scale=1 / 255)
        target[...] = cv2.add(under, cv2.cvtColor(rgba, cv2.COLOR_RGBA2BGR))


def blend_yuv420(
    planes: tuple[Pixels, Pixels, Pixels],
    marks: Iterable[Mark],
    *,
    full_range: bool = False,
    matrix: Matrix = "bt709",
) -> None:
    """Draw marks into the planes of a YUV 4:2:0 picture, in place.

    Args:
        planes: Y (h, w), U and V (ceil(h / 2), ceil(w / 2)), uint8, writable; any strides.
        marks: In the order to draw.
        full_range: The picture's levels are 0 to 255 rather than 16 to 235.
        matrix: How the picture's colour was coded.
    """
    height, width = planes[0].shape
    for mark in marks:
        if isinstance(mark, Blur):
            blur_ellipse_yuv420(planes, mark)
            continue
        steps = prepare_yuv420([mark], (width, height), full_range=full_range, matrix=matrix)
        lay_yuv420(planes, steps)


class Laid(NamedTuple):
    """One patch on one plane: `plane[rows, columns] = plane * keep + patch`."""

    plane: int
    rows: slice
    columns: slice
    patch: Pixels
    keep: Pixels


class Drawn(NamedTuple):
    """Strokes on all planes, and how colours are coded there."""

    strokes: Strokes
    full_range: bool
    matrix: Matrix


Step = Laid | Drawn


def prepare_yuv420(
    marks: Iterable[Patch | Strokes],
    size: tuple[int, int],
    *,
    full_range: bool = False,
    matrix: Matrix = "bt709",
) -> list[Step]:
    """What `blend_yuv420` would do to a picture of `size` (width, height), to be done many times.

    Args:
        marks: Patches and strokes, in the order to draw.
        size: Of the pictures.
        full_range: As in `blend_yuv420`.
        matrix: As in `blend_yuv420`.
    """
    width, height = size
    steps: list[Step] = []
    for mark in marks:
        if isinstance(mark, Strokes):
            steps.append(Drawn(mark, full_range, matrix))
            continue
        found = _visible(mark, width, height)
        if found is None:
            continue
        x, y, rgba = found
        form = _form(mark, (x, y, width, height), rgba, full_range, matrix)
        steps.append(_step(0, x, y, form.y, form.keep_y))
        steps += [_step(i, x // 2, y // 2, form.uv[i - 1], form.keep_uv) for i in (1, 2)]
    return steps


def lay_yuv420(planes: tuple[Pixels, Pixels, Pixels], steps: Iterable[Step]) -> None:
    """Do prepared steps to the planes of a picture, in place."""
    for step in steps:
        if isinstance(step, Drawn):
            _draw(planes, step.strokes, step.full_range, step.matrix)
            continue
        target = planes[step.plane][step.rows, step.columns]
        cv2.add(cv2.multiply(target, step.keep, scale=1 / 255), step.patch, dst=target)


def _draw(
    planes: tuple[Pixels, Pixels, Pixels], strokes: Strokes, full_range: bool, matrix: Matrix
) -> None:
    y, u, v = ((plane, _coded(i, full_range, matrix)) for i, plane in enumerate(planes))
    draw_parts([y], strokes.parts)
    draw_parts([u, v], strokes.parts, scale=0.5)


@lru_cache(maxsize=12)
def _coded(plane: int, full_range: bool, matrix: Matrix) -> Callable[[Rgb], tuple[int]]:
    """Opaque RGB colours to what they are in plane 0, 1 or 2."""

    @lru_cache(maxsize=64)
    def level(rgb: Rgb) -> tuple[int]:
        row = _coefficients(full_range, matrix)[plane]
        return (round(float(row @ np.array([*rgb, 255], np.float32))),)

    return level


def _step(plane: int, x: int, y: int, patch: Pixels, keep: Pixels) -> Laid:
    height, width = patch.shape
    return Laid(plane, slice(y, y + height), slice(x, x + width), patch, keep)


def _visible(patch: Patch, width: int, height: int) -> tuple[int, int, Pixels] | None:
    """Column, row and content of the part of a patch inside the picture."""
    left, top = max(0, patch.x), max(0, patch.y)
    right = min(width, patch.x + patch.rgba.shape[1])
    bottom = min(height, patch.y + patch.rgba.shape[0])
    if left >= right or top >= bottom:
        return None
    rows = slice(top - patch.y, bottom - patch.y)
    return left, top, patch.rgba[rows, left - patch.x : right - patch.x]


def _form(
    patch: Patch,
    place: tuple[int, int, int, int],
    rgba: Pixels,
    full_range: bool,
    matrix: Matrix,
) -> Planes:
    """The patch as planes, remembered while the part seen and the position's evenness stay."""
    x, y, width, height = place
    ends = (x + rgba.shape[1] == width, y + rgba.shape[0] == height)
    part = (x - patch.x, y - patch.y, rgba.shape)
    key = (part, x % 2, y % 2, ends, full_range, matrix)
    form: Planes | None = patch.forms.get(key)
    if form is None:
        form = _to_planes(rgba, x % 2, y % 2, ends, _coefficients(full_range, matrix))
        patch.forms[key] = form
    return form


@lru_cache(maxsize=4)
def _coefficients(full_range: bool, matrix: Matrix) -> NDArray[np.float32]:
    """Rows Y, Cb, Cr over columns R, G, B, A of a premultiplied pixel."""
    kr, kb = LUMA_WEIGHTS[matrix]
    luma = np.array([kr, 1 - kr - kb, kb])
    blue = (np.array([0.0, 0.0, 1.0]) - luma) / (2 * (1 - kb))
    red = (np.array([1.0, 0.0, 0.0]) - luma) / (2 * (1 - kr))
    y_gain, c_gain, black = (1.0, 1.0, 0.0) if full_range else (219 / 255, 224 / 255, 16 / 255)
    rows = [[*(luma * y_gain), black], [*(blue * c_gain), 128 / 255], [*(red * c_gain), 128 / 255]]
    return np.array(rows, np.float32)


def _to_planes(
    rgba: Pixels, odd_x: int, odd_y: int, ends: tuple[bool, bool], rows: NDArray[np.float32]
) -> Planes:
    height, width = rgba.shape[:2]
    red, green, blue, alpha = cv2.split(rgba)
    # Two weighted sums of planes are four times as fast as one matrix product of pixels.
    of_red, of_green, of_blue, of_alpha = (float(weight) for weight in rows[0])
    luma = cv2.add(
        cv2.addWeighted(red, of_red, green, of_green, 0),
        cv2.addWeighted(blue, of_blue, alpha, of_alpha, 0),
    )
    # Chroma is averaged over whole 2 x 2 cells of the picture. A cell the patch half covers is
    # filled up with nothing, one that the picture's odd last column or row half covers with itself.
    right, bottom = (odd_x + width) % 2, (odd_y + height) % 2
    cells = rgba
    if odd_x or odd_y:
        cells = _pixels(
            cv2.copyMakeBorder(cells, odd_y, 0, odd_x, 0, cv2.BORDER_CONSTANT, value=NOTHING)
        )
    if right:
        style = cv2.BORDER_REPLICATE if ends[0] else cv2.BORDER_CONSTANT
        cells = _pixels(cv2.copyMakeBorder(cells, 0, 0, 0, 1, style, value=NOTHING))
    if bottom:
        style = cv2.BORDER_REPLICATE if ends[1] else cv2.BORDER_CONSTANT
        cells = _pixels(cv2.copyMakeBorder(cells, 0, 1, 0, 0, style, value=NOTHING))
    half = cv2.resize(
        cells, (cells.shape[1] // 2, cells.shape[0] // 2), interpolation=cv2.INTER_AREA
    )
    chroma_blue, chroma_red = cv2.split(cv2.transform(half, rows[1:]))
    return Planes(
        _pixels(luma),
        (_pixels(chroma_blue), _pixels(chroma_red)),
        _pixels(cv2.bitwise_not(alpha)),
        _pixels(cv2.bitwise_not(cv2.extractChannel(half, 3))),
    )


def _pixels(array: object) -> Pixels:
    return np.asarray(array, np.uint8)
