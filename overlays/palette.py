"""Colours, accents and contrast.

Accents come from the colour-vision-safe palette of Okabe and Ito (Color Universal Design, 2008;
reprinted by Wong, Nature Methods 8:441, 2011). An accent never speaks alone: every plate pairs it
with a shape (tick, arrow, dot) and words.
"""

from __future__ import annotations

from typing import Literal

Accent = Literal["keep", "change", "neutral"]
Rgb = tuple[int, int, int]

BLUISH_GREEN: Rgb = (0x00, 0x9E, 0x73)
VERMILLION: Rgb = (0xD5, 0x5E, 0x00)
SKY_BLUE: Rgb = (0x56, 0xB4, 0xE9)

ACCENTS: dict[str, Rgb] = {"keep": BLUISH_GREEN, "change": VERMILLION, "neutral": SKY_BLUE}

INK: Rgb = (0x10, 0x17, 0x1E)
"""Plates, outlines and cards: a blue-black, softer than black on a bright picture."""
PAPER: Rgb = (0xFA, 0xF7, 0xF0)
"""Letters and plumb lines: a warm white."""
MUTED: Rgb = (0xC3, 0xC9, 0xCE)
"""Second-rank letters on ink."""
PLATE_OPACITY = 0.9
"""Of plates: even over pure white the letters keep 4.5:1 (WCAG 2.2, SC 1.4.3)."""


def accent_rgb(accent: str) -> Rgb:
    """The colour of an accent.

    Raises:
        ValueError: Not "keep", "change" or "neutral".
    """
    try:
        return ACCENTS[accent]
    except KeyError:
        raise ValueError(f"accent {accent!r} is not one of {', '.join(ACCENTS)}") from None


def luminance(rgb: Rgb) -> float:
    """Relative luminance 0 to 1 of an sRGB colour (WCAG 2.2, "relative luminance")."""
    red, green, blue = (_linear(channel / 255) for channel in rgb)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: Rgb, other: Rgb) -> float:
    """Contrast ratio 1 to 21 of two sRGB colours (WCAG 2.2, "contrast ratio")."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _linear(channel: float) -> float:
    return channel / 12.92 if channel <= 0.04045 else float(((channel + 0.055) / 1.055) ** 2.4)
