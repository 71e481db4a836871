"""Spoken numbers written the usual way: figures from ten up, before units, and with decimals."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from studio.model.speech import Word
from studio.speech.hearing import bare

SPELT = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_ONES = {word: value for value, word in enumerate(SPELT)}
_TENS = {
    word: 10 * value
    for value, word in enumerate(
        ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"], start=2
    )
}
_UNITS = frozenset(
    [
        "degree",
        "degrees",
        "percent",
        "cm",
        "mm",
        "kg",
        "spm",
        "centimetre",
        "centimetres",
        "centimeter",
        "centimeters",
        "millimetre",
        "millimetres",
        "metre",
        "metres",
        "meter",
        "meters",
        "watt",
        "watts",
        "kilo",
        "kilos",
        "hertz",
    ]
)
"""Before one of these even a small number is a figure: an angle, a length, a share."""
_WORDY = frozenset(["o'clock", "hundred", "thousand", "million", "half", "quarter", "quarters"])
"""Idioms that stay in words: "eleven o'clock", "a hundred", "twelve and a half"."""


def figures(words: Sequence[Word]) -> list[Word]:
    """Words with numbers as figures; the figure spans the time of the words it stands for."""
    made: list[Word] = []
    i = 0
    while i < len(words):
        size, text = _number(words, i)
        if size and _usual(words, i, size, text):
            made.append(_join(words[i : i + size], text))
            i += size
        else:
            made += words[i : i + max(size, 1)]
            i += max(size, 1)
    return made


def _number(words: Sequence[Word], i: int) -> tuple[int, str]:
    """How many words from `i` form one number, and its figures; (0, "") for none."""
    parts = bare(words[i].text).split("-")
    if len(parts) == 2 and parts[0] in _TENS and 0 < _ONES.get(parts[1], 0) < 10:
        return _decimals(words, i, 1, _TENS[parts[0]] + _ONES[parts[1]])
    first = parts[0] if len(parts) == 1 else ""
    if first in _TENS:
        following = _inner(words, i)
        ones = _ONES.get(following, 0)
        size, value = (2, _TENS[first] + ones) if 0 < ones < 10 else (1, _TENS[first])
        return _decimals(words, i, size, value)
    if first in _ONES:
        if _inner(words, i) == "hundred" and 0 < _ONES[first] < 10:
            return _hundreds(words, i, 100 * _ONES[first])
        return _decimals(words, i, 1, _ONES[first])
    return 0, ""


def _inner(words: Sequence[Word], i: int) -> str:
    """The next word, if nothing but a space parts it from word `i`; else empty."""
    return bare(words[i + 1].text) if i + 1 < len(words) and words[i].text[-1].isalnum() else ""


def _hundreds(words: Sequence[Word], i: int, value: int) -> tuple[int, str]:
    if _inner(words, i + 1) == "and":
        size, rest = _number(words, i + 3) if i + 3 < len(words) else (0, "")
        if size and rest.isdigit() and int(rest) < 100:
            return 3 + size, str(value + int(rest))
    return 2, str(value)


def _decimals(words: Sequence[Word], i: int, size: int, value: int) -> tuple[int, str]:
    """Add "point four two"."""
    if _inner(words, i + size - 1) != "point":
        return size, str(value)
    digits = ""
    at = i + size
    while _inner(words, at) in _ONES and _ONES[_inner(words, at)] < 10:
        digits += str(_ONES[_inner(words, at)])
        at += 1
    return (at + 1 - i, f"{value}.{digits}") if digits else (size, str(value))


def _usual(words: Sequence[Word], i: int, size: int, text: str) -> bool:
    """Whether figures are the usual way here."""
    before = bare(words[i - 1].text) if i else ""
    after = _inner(words, i + size - 1)
    behind = bare(words[i + size + 1].text) if i + size + 1 < len(words) else ""
    if after in _WORDY or (after == "and" and behind in ("a", "half")):
        return False
    if after in _TENS or before in _TENS or after in _ONES or before == "half":
        return False  # "twenty twenty", "six seven": years, counting; nothing is gained
    return "." in text or float(text) >= 10 or after in _UNITS


def _join(run: Sequence[Word], text: str) -> Word:
    opening = re.match(r"^\W*", run[0].text)
    closing = re.search(r"\W*$", run[-1].text)
    return replace(
        run[0],
        text=f"{opening.group() if opening else ''}{text}{closing.group() if closing else ''}",
        end_s=run[-1].end_s,
        probability=min(w.probability for w in run),
    )
