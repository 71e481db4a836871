"""Two hearings of the same sound made one: where they differ, the surer one stands."""

from __future__ import annotations

from collections.abc import Sequence

from rapidfuzz.distance import Levenshtein

from studio.model.speech import Word
from studio.speech.hearing import bare

NOTHING = 0.5
"""Confidence of having heard nothing: words that only one hearing has need more to stand."""


def settle(first: Sequence[Word], second: Sequence[Word]) -> list[Word]:
    """The words of two hearings, both in order and on the same clock.

    A recogniser now and then loses or makes up a whole sentence at the edge of its 30 s window;
    windows cut elsewhere fail elsewhere. Where both agree the first hearing's words stand, with
    its times; where they differ, those with the higher mean confidence.
    """
    made: list[Word] = []
    for a, b, agreed in runs(first, second):
        ours, theirs = first[a], second[b]
        made += ours if agreed or _sure(ours) >= _sure(theirs) else theirs
    return sorted(made, key=lambda w: w.start_s)


def runs(first: Sequence[Word], second: Sequence[Word]) -> list[tuple[slice, slice, bool]]:
    """Both hearings cut alike: runs that agree (True), and between them runs that do not."""
    codes = Levenshtein.opcodes([bare(w.text) for w in first], [bare(w.text) for w in second])
    made: list[tuple[slice, slice, bool]] = []
    for code in codes:
        a, b = slice(code.src_start, code.src_end), slice(code.dest_start, code.dest_end)
        agreed = code.tag == "equal"
        if made and not agreed and not made[-1][2]:
            a, b = slice(made[-1][0].start, a.stop), slice(made[-1][1].start, b.stop)
            made.pop()
        made.append((a, b, agreed))
    return made


def _sure(words: Sequence[Word]) -> float:
    return sum(w.probability for w in words) / len(words) if words else NOTHING
