"""The order of reading when left-to-right and right-to-left writing meet on a line.

A small form of the Unicode Bidirectional Algorithm (UAX #9) for single lines without explicit
direction marks: rules P2-P3, W1-W7, N0-N2, I1-I2 and L2. Shaping and mirroring inside a
stretch are the layout engine's.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

Direction = Literal["ltr", "rtl"]
BRACKETS = {"(": ")", "[": "]", "{": "}", "\u300c": "\u300d", "\u3010": "\u3011"}
"""The paired brackets coaches may write; the standard's list (BidiBrackets.txt) is longer."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Neighbouring characters of one direction, in the order they are written."""

    text: str
    direction: Direction


def stretches(text: str) -> list[Stretch]:
    """Cut a line into stretches of one direction, in order from left to right on the screen."""
    if not any(unicodedata.bidirectional(char) in ("R", "AL", "AN") for char in text):
        return [Stretch(text, "ltr")] if text else []
    levels = _levels(text)
    places = groupby(range(len(text)), levels.__getitem__)
    runs = [(level, "".join(text[i] for i in group)) for level, group in places]
    # L2: from the highest level down, turn round every sequence of runs at or above it.
    for threshold in range(max(levels), 0, -1):
        runs = [
            run
            for inside, group in groupby(runs, _at_least(threshold))
            for run in (reversed(list(group)) if inside else group)
        ]
    return [Stretch(part, "rtl" if level % 2 else "ltr") for level, part in runs]


def _at_least(threshold: int) -> Callable[[tuple[int, str]], bool]:
    return lambda run: run[0] >= threshold


def _levels(text: str) -> list[int]:
    """The embedding level of every character."""
    kinds = [unicodedata.bidirectional(char) or "L" for char in text]
    strong = next((kind for kind in kinds if kind in ("L", "R", "AL")), "L")
    base = 0 if strong == "L" else 1
    _weak(kinds, base)
    _brackets(text, kinds, base)
    _neutral(kinds, base)
    # I1, I2.
    return [base + _rise(kind, base) for kind in kinds]


def _rise(kind: str, base: int) -> int:
    if kind == "L":
        return base % 2
    if kind == "R":
        return 1 - base % 2
    return 1 if base % 2 else 2


def _weak(kinds: list[str], base: int) -> None:
    """W1 to W7, in place: marks, numbers and what stands between numbers."""
    start = "R" if base else "L"
    _marks_and_numbers(kinds, start)
    kinds[:] = ["R" if kind == "AL" else kind for kind in kinds]
    for i in range(1, len(kinds) - 1):  # W4
        around = {kinds[i - 1], kinds[i + 1]}
        if (around == {"EN"} and kinds[i] in ("ES", "CS")) or (
            around == {"AN"} and kinds[i] == "CS"
        ):
            kinds[i] = kinds[i - 1]
    for i, kind in enumerate(kinds):  # W5
        if kind == "ET" and _touches_number(kinds, i):
            kinds[i] = "EN"
    kinds[:] = ["ON" if kind in ("ES", "ET", "CS", "BN") else kind for kind in kinds]
    strong = start
    for i, kind in enumerate(kinds):  # W7
        if kind in ("L", "R"):
            strong = kind
        elif kind == "EN" and strong == "L":
            kinds[i] = "L"


def _marks_and_numbers(kinds: list[str], start: str) -> None:
    """W1 and W2: a mark is what it stands on; a number after Arabic letters is an Arabic one."""
    previous, strong = start, start
    for i, kind in enumerate(kinds):
        if kind == "NSM":
            kinds[i] = previous
        elif kind == "EN" and strong == "AL":
            kinds[i] = "AN"
        elif kind in ("L", "R", "AL"):
            strong = kind
        previous = kinds[i]


def _touches_number(kinds: list[str], i: int) -> bool:
    """W5: a run of terminators next to a European number."""
    if i > 0 and kinds[i - 1] == "EN":
        return True
    after = next((kind for kind in kinds[i:] if kind != "ET"), "")
    return after == "EN"


def _brackets(text: str, kinds: list[str], base: int) -> None:
    """N0, in place: a pair of brackets takes one direction, so that it stays a pair."""
    edge, other = ("R", "L") if base else ("L", "R")
    for opening, closing in _pairs(text, kinds):
        inside = {_side(kind) for kind in kinds[opening + 1 : closing]}
        if edge in inside:
            direction = edge
        elif other in inside:
            before = (side for kind in reversed(kinds[:opening]) if (side := _side(kind)))
            direction = next(before, edge)
        else:
            continue
        kinds[opening] = kinds[closing] = direction


def _pairs(text: str, kinds: list[str]) -> list[tuple[int, int]]:
    """Matching brackets, by their opening one (BD16)."""
    open_ones: list[int] = []
    pairs = []
    for i, char in enumerate(text):
        if kinds[i] != "ON":
            continue
        if char in BRACKETS:
            open_ones.append(i)
        elif char in BRACKETS.values():
            match = [n for n, at in enumerate(open_ones) if BRACKETS[text[at]] == char]
            if match:
                pairs.append((open_ones[match[-1]], i))
                del open_ones[match[-1] :]
    return sorted(pairs)


def _side(kind: str) -> str:
    """The direction a resolved kind pulls in; numbers count as right to left (N0)."""
    return {"L": "L", "R": "R", "EN": "R", "AN": "R"}.get(kind, "")


def _neutral(kinds: list[str], base: int) -> None:
    """N1, N2, in place: spaces and signs take the direction around them, else the line's."""
    edge = "R" if base else "L"
    directed = ("L", "R", "EN", "AN")
    for i, kind in enumerate(kinds):
        if kind in directed:
            continue
        before = kinds[i - 1] if i else edge
        after = next((other for other in kinds[i:] if other in directed), edge)
        one, two = ("L" if side == "L" else "R" for side in (before, after))
        kinds[i] = one if one == two else edge
