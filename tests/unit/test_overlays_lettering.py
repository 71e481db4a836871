"""Letters of many scripts, and the order of reading checked against FriBidi through Raqm."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont, features

from overlays.lettering import BOLD, font_files, letter, measure, missing, wrap, wrap_even
from overlays.scripts import stretches

SAMPLES = {
    "Latin": "Ünterarm gestreckt łączy",
    "Vietnamese": "lưng thẳng",
    "Greek": "γωνία κορμού",
    "Cyrillic": "наклон корпуса",
    "Hebrew": "זווית הגוף",
    "Arabic": "زاوية الجسم",
    "Devanagari": "शरीर का कोण",
    "Bengali": "শরীরের কোণ",
    "Tamil": "உடல் கோணம்",
    "Thai": "มุมลำตัว",
    "Georgian": "სხეულის კუთხე",
    "Armenian": "մարմնի անկյուն",
    "Ethiopic": "የሰውነት ማዕዘን",
    "Chinese": "身体前倾角度",
    "Japanese": "体の前傾を保つ",
    "Korean": "상체 각도",
    "signs": "✓ → ° ½ \u2212 …",
}


def test_raqm_is_in_this_pillow() -> None:
    assert features.check("raqm")


def test_fonts_come_with_packages() -> None:
    for path in font_files():
        assert Path(path).is_file()
        assert "site-packages" in Path(path).parts


@pytest.mark.parametrize("script", SAMPLES)
def test_every_script_has_letters(script: str) -> None:
    text = SAMPLES[script]
    assert missing(text) == set()
    line = letter(text, 32)
    assert (line.mask > 128).sum() > 20 * len(text)
    assert line.advance > 8 * len(text.split())


def test_a_character_no_face_has_is_told_and_seen() -> None:
    rare = "\u1680x\U00012000"
    assert missing(rare) == {"\U00012000"}
    assert letter("\U00012000", 32).mask.any()


def test_arabic_letters_join_and_marks_take_no_room() -> None:
    """Shaping: joined letters are narrower than the same apart; a vowel mark adds no advance."""
    assert measure("ببب", 64) < measure("ب ب ب", 64) - 2 * measure(" ", 64) - 4
    assert measure("कि", 64) < measure("क", 64) + measure("ि", 64) + 1
    assert measure("بَ", 64) == pytest.approx(measure("ب", 64), abs=1)


def test_one_line_may_mix_scripts() -> None:
    mixed = letter("lean 27° — 前傾 — زاوية", 40)
    parts = sum(measure(part, 40) for part in ("lean 27° — ", "前傾 — ", "زاوية"))
    assert mixed.advance == pytest.approx(parts, abs=3)


def test_bold_is_heavier() -> None:
    assert letter("27°", 64, BOLD).mask.sum() > 1.15 * letter("27°", 64).mask.sum()


def test_digits_are_of_one_width() -> None:
    """A changing number must not make its plate jitter."""
    assert len({measure(digit, 64, BOLD) for digit in "0123456789"}) == 1


def _face() -> ImageFont.FreeTypeFont:
    """One face with Latin, Hebrew and Arabic, so that FriBidi can order a whole line by itself."""
    path = Path(cv2.__file__).parent / "qt" / "fonts" / "DejaVuSans.ttf"
    if not path.exists():
        pytest.skip("this OpenCV build carries no DejaVu Sans")
    return ImageFont.truetype(path, 40, layout_engine=ImageFont.Layout.RAQM)


@pytest.mark.parametrize(
    "text",
    [
        "abc אבג def",
        "אבג abc דהו",
        "אבג 123 דהו",
        "abc אבג 123 def",
        "אבג 12.5 דהו",
        "אבג 27° abc",
        "زاوية 27 abc",
        "lean (אבג) 5",
        "אבג, דהו! abc?",
        "a1 ב2 c3",
        "زاوية ٢٧ درجة",
        "12 אבג",
    ],
)
def test_order_of_reading_agrees_with_fribidi(text: str) -> None:
    """The line drawn stretch by stretch in our order looks as when FriBidi orders it whole."""
    face = _face()
    # P2: the first strong letter decides; digits are weak.
    first = next(char for char in text if char.isalpha())
    base = "rtl" if first > "\u0590" else "ltr"
    whole = Image.new("L", (900, 120))
    ImageDraw.Draw(whole).text((20, 80), text, 255, face, anchor="ls", direction=base)
    ours = Image.new("L", (900, 120))
    draw, x = ImageDraw.Draw(ours), 20.0
    for stretch in stretches(text):
        draw.text((x, 80), stretch.text, 255, face, anchor="ls", direction=stretch.direction)
        x += face.getlength(stretch.text, stretch.direction)
    one, two = (np.asarray(image, np.float32) for image in (whole, ours))
    # A pixel of sideways rounding at each joint is no matter: compare after a slight blur.
    one, two = (cv2.GaussianBlur(image, (0, 0), 2.5) for image in (one, two))
    assert np.abs(one - two).sum() < 0.12 * one.sum()


def test_the_order_check_can_fail() -> None:
    face = _face()
    images = []
    for text in ("אבג abc דהו", "דהו abc אבג"):
        image = Image.new("L", (900, 120))
        ImageDraw.Draw(image).text((20, 80), text, 255, face, anchor="ls", direction="rtl")
        images.append(cv2.GaussianBlur(np.asarray(image, np.float32), (0, 0), 2.5))
    assert np.abs(images[0] - images[1]).sum() > 0.12 * images[0].sum()


def test_wrapping_fits_and_loses_nothing() -> None:
    text = "Hands away first, then the body, then the knees come up"
    lines = wrap(text, 32, 300)
    assert " ".join(lines) == text
    assert len(lines) > 2
    assert all(measure(line, 32) <= 300 for line in lines)


def test_wrapping_breaks_long_words_and_unspaced_scripts() -> None:
    for text in ("Donaudampfschifffahrtsgesellschaft", "身体前倾角度保持稳定不要改变"):
        lines = wrap(text, 32, 150)
        assert "".join(lines) == text
        assert all(measure(line, 32) <= 150 for line in lines)


def test_even_lines_leave_no_word_alone() -> None:
    text = "Shins vertical, heels just off the plate"
    width = measure("Shins vertical, heels just off the", 32) + 2
    plain, even = (broken(text, 32, width) for broken in (wrap, wrap_even))
    assert len(even) == len(plain) == 2
    assert " ".join(even) == text
    spread = [abs(measure(a, 32) - measure(b, 32)) for a, b in (plain, even)]
    assert spread[1] < 0.3 * spread[0]


def test_nothing_to_letter() -> None:
    assert not letter("", 20).mask.any()
    assert not letter("   ", 20).mask.any()
    assert wrap("  ", 20, 100) == ()
