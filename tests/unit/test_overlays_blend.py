"""Blending: against a plain float reference, and against FFmpeg's own colour conversion."""

from __future__ import annotations

import av
import numpy as np
import pytest

from overlays import (
    Blur,
    Canvas,
    FaceBlur,
    LimbLines,
    Patch,
    blend_bgr,
    blend_yuv420,
    lay_yuv420,
    prepare_yuv420,
)
from overlays.canvas import Strokes
from overlays.ink import Sheet

WIDTH, HEIGHT = 64, 48


def planes(
    width: int = WIDTH, height: int = HEIGHT, level: tuple[int, int, int] = (90, 120, 140)
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    half = ((height + 1) // 2, (width + 1) // 2)
    return (
        np.full((height, width), level[0], np.uint8),
        np.full(half, level[1], np.uint8),
        np.full(half, level[2], np.uint8),
    )


def random_patch(x: int, y: int, height: int = 13, width: int = 17, seed: int = 1) -> Patch:
    rng = np.random.default_rng(seed)
    alpha = rng.integers(0, 256, (height, width, 1))
    colour = rng.integers(0, 256, (height, width, 3)) * alpha // 255
    return Patch(x, y, np.concatenate((colour, alpha), axis=2).astype(np.uint8))


def reference(
    before: tuple[np.ndarray, np.ndarray, np.ndarray], patch: Patch
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """BT.709 limited range straight from its definition (Rec. ITU-R BT.709-6, items 3.2 to 3.4)."""
    height, width = before[0].shape
    rgba = np.zeros((height + 1, width + 1, 4))
    for row in range(patch.rgba.shape[0]):
        for column in range(patch.rgba.shape[1]):
            y, x = patch.y + row, patch.x + column
            if 0 <= y < height and 0 <= x < width:
                rgba[y, x] = patch.rgba[row, column] / 255
    if height % 2:
        rgba[height] = rgba[height - 1]
    if width % 2:
        rgba[:, width] = rgba[:, width - 1]
    r, g, b, a = (rgba[..., i] for i in range(4))
    luma = 0.2126 * r + 0.7152 * g + 0.0722 * b
    blue = 224 * (b - luma) / 1.8556 + 128 * a
    red = 224 * (r - luma) / 1.5748 + 128 * a

    def quarter(plane: np.ndarray) -> np.ndarray:
        rows, columns = before[1].shape
        return plane[: 2 * rows, : 2 * columns].reshape(rows, 2, columns, 2).mean(axis=(1, 3))

    keep = 1 - a
    return (
        before[0] * keep[:height, :width] + (219 * luma + 16 * a)[:height, :width],
        before[1] * quarter(keep) + quarter(blue),
        before[2] * quarter(keep) + quarter(red),
    )


@pytest.mark.parametrize("size", [(64, 48), (63, 47)], ids=["even", "odd"])
@pytest.mark.parametrize(
    ("x", "y"), [(10, 12), (11, 12), (10, 13), (11, 13), (-5, -4), (55, 40), (50, 36)]
)
def test_matches_definition_at_every_offset(x: int, y: int, size: tuple[int, int]) -> None:
    patch = random_patch(x, y)
    got = planes(*size)
    expected = reference(planes(*size), patch)
    blend_yuv420(got, [patch])
    for plane, wanted in zip(got, expected, strict=True):
        assert np.abs(plane - wanted).max() <= 1.6


def test_outside_the_patch_nothing_changes() -> None:
    got = planes()
    blend_yuv420(got, [random_patch(11, 13)])
    touched = np.zeros((HEIGHT, WIDTH), bool)
    touched[13:26, 11:28] = True
    assert (got[0][~touched] == 90).all()
    assert (got[0][touched] != 90).any()
    assert (got[1][:6] == 120).all()
    assert (got[1][13:] == 120).all()


@pytest.mark.parametrize("rgb", [(0, 158, 115), (213, 94, 0), (86, 180, 233), (250, 247, 240)])
def test_ffmpeg_reads_back_the_colour(rgb: tuple[int, int, int]) -> None:
    """libswscale, through PyAV, turns the planes back into the colour that was drawn."""
    flat = np.empty((HEIGHT, WIDTH, 4), np.uint8)
    flat[:] = (*rgb, 255)
    y, u, v = planes()
    blend_yuv420((y, u, v), [Patch(0, 0, flat)])
    frame = av.VideoFrame.from_ndarray(np.concatenate((y.ravel(), u.ravel(), v.ravel())).reshape(
        HEIGHT * 3 // 2, WIDTH), format="yuv420p")  # fmt: skip
    back = frame.reformat(format="rgb24", src_colorspace="ITU709", src_color_range="MPEG")
    assert np.abs(back.to_ndarray()[20, 20].astype(int) - rgb).max() <= 3


@pytest.mark.parametrize(
    ("matrix", "kr", "kb"), [("bt709", 0.2126, 0.0722), ("bt601", 0.299, 0.114)]
)
def test_full_range_and_matrix(matrix: str, kr: float, kb: float) -> None:
    flat = np.empty((HEIGHT, WIDTH, 4), np.uint8)
    flat[:] = (200, 40, 90, 255)
    y, u, v = planes()
    blend_yuv420((y, u, v), [Patch(0, 0, flat)], full_range=True, matrix=matrix)  # type: ignore[arg-type]
    luma = kr * 200 + (1 - kr - kb) * 40 + kb * 90
    assert abs(int(y[5, 5]) - luma) <= 1
    assert abs(int(u[5, 5]) - (128 + (90 - luma) / (2 * (1 - kb)))) <= 1.5
    assert abs(int(v[5, 5]) - (128 + (200 - luma) / (2 * (1 - kr)))) <= 1.5


def test_draws_into_views_of_padded_lines() -> None:
    padded = [np.full((HEIGHT, WIDTH + 32), 90, np.uint8)] + [
        np.full((HEIGHT // 2, WIDTH // 2 + 16), 128, np.uint8) for _ in range(2)
    ]
    views = (padded[0][:, :WIDTH], padded[1][:, : WIDTH // 2], padded[2][:, : WIDTH // 2])
    plain = planes(level=(90, 128, 128))
    for target in (views, plain):
        blend_yuv420(target, [random_patch(51, 40)])
    assert all((a == b).all() for a, b in zip(views, plain, strict=True))
    assert (padded[0][:, WIDTH:] == 90).all()


def test_two_clips_of_one_patch_are_not_mixed_up() -> None:
    patch = random_patch(0, 10, width=20)
    for x in (-8, WIDTH - 12):
        got, wanted = planes(), planes()
        blend_yuv420(got, [patch.moved(x, 10)])
        blend_yuv420(wanted, [Patch(x, 10, patch.rgba.copy())])
        assert all((a == b).all() for a, b in zip(got, wanted, strict=True))


def test_bgr_is_the_over_rule() -> None:
    image = np.full((HEIGHT, WIDTH, 3), (10, 120, 200), np.uint8)
    patch = random_patch(9, 7)
    blend_bgr(image, [patch])
    alpha = patch.rgba[..., 3:] / 255
    wanted = np.array((10, 120, 200)) * (1 - alpha) + patch.rgba[..., 2::-1]
    assert np.abs(image[7:20, 9:26] - wanted).max() <= 1


def test_a_patch_must_be_rgba_bytes() -> None:
    with pytest.raises(ValueError, match=r"\(h, w, 4\) uint8"):
        Patch(0, 0, np.zeros((4, 4, 3), np.uint8))


def test_blur_leaves_no_detail_and_the_rest_alone() -> None:
    rng = np.random.default_rng(7)
    image = rng.integers(0, 256, (120, 160, 3)).astype(np.uint8)
    before = image.copy()
    canvas = Canvas(160, 120)
    FaceBlur(centre=(80.0, 60.0), radius=(30.0, 36.0)).draw(canvas)
    blend_bgr(image, canvas.marks)
    inside = image[36:84, 60:100].astype(float)
    # A step between neighbours is what detail is made of; the noise before had about 85.
    assert np.abs(np.diff(inside, axis=1)).mean() < 3
    assert inside.std() < 12
    rows, columns = np.ogrid[:120, :160]
    far = ((columns - 80) / 30) ** 2 + ((rows - 60) / 36) ** 2 > 1.2**2
    assert (image[far] == before[far]).all()


def test_blur_cannot_be_undone() -> None:
    """Two faces with the same coarse averages come out the same: nothing else is kept."""
    y, u, v = planes(160, 120)
    rng = np.random.default_rng(3)
    noise = rng.integers(-40, 41, (60, 80))
    other = y.copy()
    # Differences that cancel within 2 x 2 pixels, over the whole face.
    y[0::2, 0::2] = (y[0::2, 0::2] + noise).astype(np.uint8)
    y[1::2, 0::2] = (y[1::2, 0::2] - noise).astype(np.uint8)
    for luma in (y, other):
        blend_yuv420((luma, u.copy(), v.copy()), [Blur((80.0, 60.0), (40.0, 40.0))])
    assert np.abs(y[40:80, 60:100].astype(int) - other[40:80, 60:100]).max() <= 2


def test_blur_at_the_edge_and_outside() -> None:
    for centre in ((-5.0, 10.0), (159.0, 119.0), (400.0, 400.0)):
        image = np.zeros((120, 160, 3), np.uint8)
        blend_bgr(image, [Blur(centre, (20.0, 20.0))])
        assert (image == 0).all()


def test_unknown_face_draws_nothing() -> None:
    canvas = Canvas(160, 120)
    FaceBlur(centre=(float("nan"), 4.0), radius=9.0).draw(canvas)
    assert canvas.marks == []


@pytest.mark.parametrize("full_range", [False, True])
def test_strokes_look_like_the_patch_they_stand_for(full_range: bool) -> None:
    """Drawn straight into the planes, or on a sheet that is then blended: the same to see."""
    arm = [(31.25, 40.5), (120.0, 96.75), (150.5, 30.0)]
    canvas = Canvas(1280, 720)
    LimbLines(chains=[arm], accent="change").draw(canvas)
    (strokes,) = canvas.marks
    assert isinstance(strokes, Strokes)
    sheet = Sheet.around(canvas, arm, 10)
    assert sheet is not None
    sheet.draw(strokes.parts)
    drawn, laid = ([np.full((h, w), level, np.uint8) for h, w, level in
                    ((128, 192, 90), (64, 96, 120), (64, 96, 140))] for _ in range(2))  # fmt: skip
    blend_yuv420(tuple(drawn), [strokes], full_range=full_range)
    blend_yuv420(tuple(laid), [sheet.patch()], full_range=full_range)
    assert np.abs(drawn[0].astype(int) - laid[0]).max() <= 3
    assert (drawn[0] != 90).any()
    for mine, theirs in zip(drawn[1:], laid[1:], strict=True):
        off = np.abs(mine.astype(int) - theirs)
        # lines are whole samples wide and discs softer, so that an edge may lie half a sample off
        assert off.max() <= 48
        assert off[theirs != theirs[0, 0]].mean() <= 8
    again = [np.full_like(plane, plane[-1, -1]) for plane in drawn]
    lay_yuv420(tuple(again), prepare_yuv420([strokes], (192, 128), full_range=full_range))
    assert all((a == b).all() for a, b in zip(again, drawn, strict=True))


def test_a_fading_line_and_one_in_a_tiny_picture_are_patches() -> None:
    for width, height, opacity in ((1280, 720, 0.5), (320, 180, 1.0)):
        canvas = Canvas(width, height)
        LimbLines(chains=[[(20.0, 20.0), (90.0, 90.0)]], opacity=opacity).draw(canvas)
        assert canvas.marks
        assert all(isinstance(mark, Patch) for mark in canvas.marks)
