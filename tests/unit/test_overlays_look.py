"""The look: contrast, sizes and margins measured on what is drawn."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from overlays import (
    REGISTRY,
    AngleFan,
    Canvas,
    Caption,
    HandleTrail,
    LimbLines,
    NumberPlate,
    Patch,
    PhaseStrip,
    blend_bgr,
    palette,
)
from overlays.preview import background, sample

SIZES = [(1280, 720), (1920, 1080), (3840, 2160), (1080, 1920)]
NAN = (math.nan, 10.0)
WHOLE = {"title_card", "end_card", "side_by_side", "face_blur"}
LETTERED = {"number_plate", "callout", "caption", "draft_mark", "phase_strip", "recovery_order"}


def drawn(name: str, size: tuple[int, int] = (1280, 720)) -> Canvas:
    canvas = Canvas(*size)
    sample(name, canvas).draw(canvas)
    return canvas


def over(canvas: Canvas, level: int) -> np.ndarray:
    image = np.full((canvas.height, canvas.width, 3), level, np.uint8)
    blend_bgr(image, canvas.marks)
    return image


def test_contrast_by_published_examples() -> None:
    """WCAG 2.2: black on white is 21:1; #767676 on white passes with 4.54:1, #777777 fails."""
    assert palette.contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert palette.contrast((0x76,) * 3, (255,) * 3) == pytest.approx(4.54, abs=0.005)
    assert palette.contrast((0x77,) * 3, (255,) * 3) < 4.5


def test_accents_are_okabe_and_ito() -> None:
    """RGB as printed by Wong, Nature Methods 8:441 (2011), table of eight colours."""
    assert palette.ACCENTS == {
        "keep": (0, 158, 115),
        "change": (213, 94, 0),
        "neutral": (86, 180, 233),
    }


@pytest.mark.parametrize("level", [0, 128, 255])
@pytest.mark.parametrize("name", ["number_plate", "callout", "caption", "draft_mark"])
def test_letters_on_plates_reach_aa(name: str, level: int) -> None:
    """WCAG 2.2 SC 1.4.3 on the rendered plate, over black, grey and white pictures."""
    canvas = Canvas(1280, 720)
    overlay = sample(name, canvas)
    overlay.draw(canvas)
    plate = [mark for mark in canvas.marks if isinstance(mark, Patch)][-1]
    image = over(canvas, level)
    box = plate.box
    inside = image[int(box.top) + 8 : int(box.bottom) - 8, int(box.left) + 40 : int(box.right) - 8]
    flat = inside.reshape(-1, 3)[:, ::-1]
    light = flat.sum(axis=1)
    ground, letters = flat[light <= np.percentile(light, 40)], flat[light >= light.max() - 6]
    lightest_ground = tuple(int(c) for c in ground.max(axis=0))
    darkest_letter = tuple(int(c) for c in letters.min(axis=0))
    assert palette.contrast(darkest_letter, lightest_ground) >= 4.5  # type: ignore[arg-type]


@pytest.mark.parametrize("accent", ["keep", "change", "neutral"])
def test_sign_on_accent_and_line_on_outline(accent: str) -> None:
    """SC 1.4.11: signs, lines and strips keep 3:1 against the ink beside them."""
    assert palette.contrast(palette.accent_rgb(accent), palette.INK) >= 4.5
    assert palette.contrast(palette.PAPER, palette.INK) >= 4.5
    assert palette.contrast(palette.MUTED, palette.INK) >= 4.5


@pytest.mark.parametrize("level", [0, 128, 255])
def test_drawn_lines_have_a_dark_outline(level: int) -> None:
    canvas = Canvas(1280, 720)
    LimbLines(chains=[[(200.0, 300.0), (900.0, 300.0)]]).draw(canvas)
    column = over(canvas, level)[280:320, 500].astype(int)
    sums = column.sum(axis=1)
    line = int(np.argmax(np.where(np.abs(np.arange(40) - 20) <= 2, sums, -1)))
    centre = tuple(int(c) for c in column[line][::-1])
    for step in (-1, 1):
        side = min(
            (tuple(int(c) for c in column[line + step * k][::-1]) for k in range(1, 7)), key=sum
        )
        assert palette.contrast(centre, side) >= 3  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "accents", [("keep", "change"), ("keep", "neutral"), ("change", "neutral")]
)
def test_plates_of_two_kinds_differ_without_colour(accents: tuple[str, str]) -> None:
    shapes = []
    for accent in accents:
        canvas = Canvas(1280, 720)
        NumberPlate(text="x", corner=(100.0, 100.0), accent=accent).draw(canvas)  # type: ignore[arg-type]
        patch = canvas.marks[0]
        assert isinstance(patch, Patch)
        field = patch.rgba[..., :3].astype(int)
        ink = np.abs(field - np.array(palette.INK)).sum(axis=2) < 60
        shapes.append(ink[:, : canvas.text * 9 // 10])
    assert (shapes[0] != shapes[1]).mean() > 0.03


@pytest.mark.parametrize("size", SIZES[:3])
def test_digits_alone_are_tall_enough(size: tuple[int, int]) -> None:
    canvas = Canvas(*size)
    NumberPlate(text="27", corner=(50.0, 50.0)).draw(canvas)
    patch = canvas.marks[0]
    assert isinstance(patch, Patch)
    letters = patch.rgba[:, canvas.text * 5 // 4 :, :3].min(axis=2) > 128
    rows = np.flatnonzero(letters.any(axis=1))
    assert (rows[-1] - rows[0] + 1) / size[1] >= 0.032


def test_upright_letters_are_tall_enough() -> None:
    canvas = Canvas(1080, 1920)
    NumberPlate(text="lp", corner=(50.0, 50.0)).draw(canvas)
    patch = canvas.marks[0]
    assert isinstance(patch, Patch)
    letters = patch.rgba[:, canvas.text * 5 // 4 :, :3].min(axis=2) > 128
    rows = np.flatnonzero(letters.any(axis=1))
    assert (rows[-1] - rows[0] + 1) / 1920 >= 0.032


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", sorted(LETTERED))
def test_letters_stay_title_safe(name: str, size: tuple[int, int]) -> None:
    canvas = drawn(name, size)
    safe = canvas.safe.grown(1)
    for mark in canvas.marks:
        assert isinstance(mark, Patch)
        assert mark.box.left >= safe.left
        assert mark.box.right <= safe.right
        assert mark.box.top >= safe.top
        assert mark.box.bottom <= safe.bottom


@pytest.mark.parametrize("name", sorted(set(REGISTRY) - WHOLE))
def test_nothing_the_size_of_the_picture(name: str) -> None:
    canvas = drawn(name)
    area = sum(m.rgba.shape[0] * m.rgba.shape[1] for m in canvas.marks if isinstance(m, Patch))
    assert canvas.marks
    assert area < 0.15 * 1280 * 720


@pytest.mark.parametrize("name", sorted(set(REGISTRY) - WHOLE - {"angle_fan"}))
def test_no_opacity_draws_nothing(name: str) -> None:
    canvas = Canvas(1280, 720)
    faded = dataclasses.replace(sample(name, canvas), opacity=0.0)  # type: ignore[type-var]
    faded.draw(canvas)
    assert canvas.marks == []


def test_every_overlay_is_frozen_documented_and_sampled() -> None:
    for name, kind in REGISTRY.items():
        assert kind.__doc__
        assert "Attributes:" in kind.__doc__ or name == "draft_mark"
        assert kind.draw.__doc__
        overlay = sample(name, Canvas(1280, 720))
        assert type(overlay) is kind
        field = dataclasses.fields(overlay)[0].name  # type: ignore[arg-type]
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(overlay, field, None)


def test_unknown_points_draw_nothing() -> None:
    canvas = Canvas(640, 360)
    AngleFan(vertex=NAN, tip=(3.0, 4.0), text="lean 1°").draw(canvas)
    AngleFan(vertex=(9.0, 9.0), tip=(3.0, 4.0), reference=NAN, text="elbow 1°").draw(canvas)
    HandleTrail(points=np.full((5, 2), np.nan)).draw(canvas)
    LimbLines(chains=[[NAN, NAN]]).draw(canvas)
    PhaseStrip(drive_s=math.nan, recovery_s=1.0, now_s=0.0).draw(canvas)
    NumberPlate(text="3", corner=NAN).draw(canvas)
    Caption(lines=("", " ")).draw(canvas)
    assert canvas.marks == []


def test_unknown_joint_breaks_only_its_chain() -> None:
    canvas = Canvas(1280, 720)
    LimbLines(chains=[[(100.0, 100.0), NAN, (300.0, 100.0), (400.0, 100.0)]]).draw(canvas)
    image = over(canvas, 128)
    assert (image[100, 200] == 128).all()
    assert (image[100, 350] != 128).any()


def test_fan_covers_the_angle_between_plumb_line_and_limb() -> None:
    canvas = Canvas(1280, 720)
    AngleFan(vertex=(600.0, 500.0), tip=(700.0, 500.0 - 173.2), text="", accent="keep").draw(canvas)
    image = over(canvas, 128)

    def inside(degrees: float) -> bool:
        turn = math.radians(degrees)
        x, y = 600 + 80 * math.sin(turn), 500 - 80 * math.cos(turn)
        return bool((image[round(y), round(x)] != 128).any())

    assert inside(6)
    assert inside(25)
    assert not inside(-8)
    assert not inside(38)


def test_clockwise_holds_the_side_of_a_straight_limb() -> None:
    tops = []
    for wobble in (-2.0, 2.0):
        canvas = Canvas(1280, 720)
        AngleFan(
            vertex=(600.0, 400.0),
            tip=(800.0, 400.0 + wobble),
            reference=(400.0, 400.0),
            text="",
            clockwise=True,
        ).draw(canvas)
        image = over(canvas, 128)
        tops.append((bool((image[350, 600] != 128).any()), bool((image[450, 600] != 128).any())))
    assert tops == [(True, False), (True, False)]


def test_far_points_do_not_overflow() -> None:
    canvas = Canvas(640, 360)
    LimbLines(chains=[[(-1e7, 100.0), (1e7, 120.0)]]).draw(canvas)
    HandleTrail(points=np.array([[1e8, 1e8], [2e8, 1e8]])).draw(canvas)
    AngleFan(vertex=(1e9, 1e9), tip=(1e9, 2e9), text="").draw(canvas)
    assert over(canvas, 100).shape == (360, 640, 3)


def test_the_marker_moves_with_time() -> None:
    lefts = []
    for now in (0.0, 1.0, 2.5, 99.0):
        canvas = Canvas(1280, 720)
        PhaseStrip(drive_s=1.0, recovery_s=1.5, now_s=now).draw(canvas)
        marker = canvas.marks[-1]
        assert isinstance(marker, Patch)
        lefts.append(marker.x)
    assert lefts[0] < lefts[1] < lefts[2] == lefts[3]
    assert (lefts[1] - lefts[0]) / (lefts[2] - lefts[0]) == pytest.approx(0.4, abs=0.01)


def test_static_drawing_is_kept() -> None:
    first, second = (drawn("caption").marks[0] for _ in range(2))
    assert isinstance(first, Patch)
    assert isinstance(second, Patch)
    assert first.rgba is second.rgba
    assert first.forms is second.forms


def test_previews_draw_on_any_shape() -> None:
    for size in ((320, 320), (240, 426), (640, 270)):
        image = background(*size)
        for name in REGISTRY:
            canvas = Canvas(*size)
            sample(name, canvas).draw(canvas)
            blend_bgr(image, canvas.marks)


def test_unknown_accent_is_refused() -> None:
    with pytest.raises(ValueError, match="keep, change, neutral"):
        NumberPlate(text="1", corner=(0.0, 0.0), accent="red").draw(Canvas(320, 180))  # type: ignore[arg-type]
