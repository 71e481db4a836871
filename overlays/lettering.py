"""Letters of any script, as masks.

Faces come from the packages `manimgx-fonts` (Noto Sans and its sisters) and `manimgx-fonts-cjk`;
nothing on the computer is searched. Each character goes to the first face that has it; stretches
of one face and one direction are shaped by HarfBuzz through Pillow's Raqm layout, and stretches
are put in the order of reading by the Unicode Bidirectional Algorithm's levels (see
`overlays.scripts`).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import as_file, files
from pathlib import Path

import numpy as np
from fontTools.ttLib import TTFont
from PIL import Image, ImageDraw, ImageFont

from overlays.canvas import Pixels
from overlays.scripts import Stretch, stretches

REGULAR, BOLD = 440, 680
"""Weights on the faces' `wght` axis."""
LEADING = 1.3
"""Line pitch over letter size."""

_SANS = "manimgx_fonts"
_CJK = "manimgx_fonts_cjk"
_FIRST = ("NotoSans[wght].ttf",)
_LAST = ("NotoSansSymbols[wght].ttf", "NotoEmoji[wght].ttf")
_CJK_FILE = "NotoSansCJK-VF.otf.ttc"
_JAPANESE, _KOREAN, _CHINESE = 0, 1, 2
_JOINERS = {0x200C, 0x200D, 0xFE0E, 0xFE0F}


@dataclass(frozen=True, slots=True)
class Face:
    """One font file, or one member of a font collection."""

    path: Path
    index: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One line of letters.

    Attributes:
        mask: (h, w) uint8 coverage, cut to the ink; 1 x 1 and empty where there is none.
        left: Ink's left edge from the start of the line, pixels.
        top: Ink's top edge above the baseline, negative upward, pixels.
        advance: How far the line reaches, pixels.
    """

    mask: Pixels
    left: int
    top: int
    advance: float


@lru_cache(maxsize=1)
def faces() -> tuple[Face, ...]:
    """Every face but the CJK ones, in the order they are asked."""
    with as_file(files(_SANS)) as folder:
        others = sorted(
            path.name
            for path in folder.glob("NotoSans*.ttf")
            if path.name not in (*_FIRST, *_LAST) and "Italic" not in path.name
        )
        return tuple(Face(folder / name) for name in (*_FIRST, *others, *_LAST))


def font_files() -> tuple[Path, ...]:
    """Every font file letters may come from."""
    return (*(face.path for face in faces()), _cjk(_CHINESE).path)


def missing(text: str) -> set[str]:
    """The characters of a text that no face has; they come out as empty boxes."""
    return {char for char in text if not char.isspace() and _face_of(char, _CHINESE) is None}


@lru_cache(maxsize=1024)
def letter(text: str, size: int, weight: int = REGULAR) -> Line:
    """Set one line of text.

    Args:
        text: Any script; no line breaks.
        size: Letter size (em) in pixels.
        weight: 400 to 700.
    """
    runs = [
        (stretch, _font(face, size, weight))
        for stretch in stretches(text)
        for face, stretch in _by_face(stretch, text)
    ]
    advances = [font.getlength(run.text, run.direction) for run, font in runs]
    width, margin = int(sum(advances)) + 2 * size, size
    image = Image.new("L", (width, 4 * size))
    draw = ImageDraw.Draw(image)
    x = float(margin)
    for (run, font), advance in zip(runs, advances, strict=True):
        draw.text((x, 2 * size), run.text, 255, font, anchor="ls", direction=run.direction)
        x += advance
    box = image.getbbox()
    if box is None:
        return Line(np.zeros((1, 1), np.uint8), 0, 0, sum(advances))
    mask = np.asarray(image.crop(box), np.uint8)
    return Line(mask, box[0] - margin, box[1] - 2 * size, sum(advances))


def measure(text: str, size: int, weight: int = REGULAR) -> float:
    """How far a line of text reaches, pixels."""
    return letter(text, size, weight).advance


def wrap(text: str, size: int, width: float, weight: int = REGULAR) -> tuple[str, ...]:
    """Break text into lines no wider than `width` pixels.

    Breaks at spaces; a word that does not fit alone, and scripts without spaces, break between
    characters.
    """
    lines: list[str] = []
    for word in _pieces(text, size, width, weight):
        joined = f"{lines[-1]}{word}" if lines else word.lstrip()
        if lines and measure(joined.rstrip(), size, weight) <= width:
            lines[-1] = joined
        elif lines:
            lines.append(word.lstrip())
        else:
            lines = [joined]
    return tuple(line.rstrip() for line in lines if line.strip())


def wrap_even(text: str, size: int, width: float, weight: int = REGULAR) -> tuple[str, ...]:
    """Break text into as few lines as `wrap` does, but even ones: no word left alone."""
    lines = wrap(text, size, width, weight)
    count = len(lines)
    while count > 1 and width > size:
        width *= 0.95
        narrower = wrap(text, size, width, weight)
        if len(narrower) > count:
            break
        lines = narrower
    return lines


def _pieces(text: str, size: int, width: float, weight: int) -> list[str]:
    """Words with the space before them; words too long as single characters."""
    pieces: list[str] = []
    for number, word in enumerate(text.split()):
        space = " " if number else ""
        if measure(word, size, weight) <= width:
            pieces.append(space + word)
        else:
            pieces.extend((space if i == 0 else "") + char for i, char in enumerate(word))
    return pieces


def _by_face(stretch: Stretch, whole: str) -> list[tuple[Face, Stretch]]:
    """A stretch cut where the face changes, in the order of reading on the screen."""
    country = _country(whole)
    cut: list[tuple[Face, str]] = []
    for char in stretch.text:
        face = _face_of(char, country) or faces()[0]
        if cut and (
            ord(char) in _JOINERS or (_has(cut[-1][0], char) and _shares(cut[-1][0], char))
        ):
            face = cut[-1][0]
        if cut and cut[-1][0] == face:
            cut[-1] = (face, cut[-1][1] + char)
        else:
            cut.append((face, char))
    if stretch.direction == "rtl":
        cut.reverse()
    return [(face, Stretch(text, stretch.direction)) for face, text in cut]


def _shares(face: Face, char: str) -> bool:
    """Whether a character belongs with what stands before it rather than to a face of its own."""
    return not char.isalnum() or face == _face_of(char, _CHINESE)


def _face_of(char: str, country: int) -> Face | None:
    if char.isspace() or ord(char) in _JOINERS:
        return faces()[0]
    for face in faces():
        if _has(face, char):
            return face
    cjk = _cjk(country)
    return cjk if _has(cjk, char) else None


def _has(face: Face, char: str) -> bool:
    return char.isspace() or ord(char) in _characters(face)


def _country(text: str) -> int:
    """Which national forms shared Han characters take: told by kana and hangul."""
    if any("\uac00" <= char <= "\ud7af" or "\u1100" <= char <= "\u11ff" for char in text):
        return _KOREAN
    if any("\u3040" <= char <= "\u30ff" for char in text):
        return _JAPANESE
    return _CHINESE


@lru_cache(maxsize=8)
def _cjk(country: int) -> Face:
    with as_file(files(_CJK)) as folder:
        return Face(folder / _CJK_FILE, country)


@lru_cache(maxsize=64)
def _characters(face: Face) -> frozenset[int]:
    with TTFont(face.path, fontNumber=face.index, lazy=True) as font:
        return frozenset(font.getBestCmap())


@lru_cache(maxsize=256)
def _font(face: Face, size: int, weight: int) -> ImageFont.FreeTypeFont:
    font = ImageFont.truetype(
        face.path, size, index=face.index, layout_engine=ImageFont.Layout.RAQM
    )
    font.set_variation_by_axes([weight])
    return font
