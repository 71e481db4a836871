"""Words to sentences: by their punctuation, and by long pauses where there is none."""

from __future__ import annotations

import re
from collections.abc import Sequence

from studio.model.speech import Sentence, Word

LONG_PAUSE_S = 2.0
"""A silence that ends a sentence whatever its punctuation says."""
ABBREVIATIONS = frozenset(["mr.", "mrs.", "ms.", "dr.", "st.", "e.g.", "i.e.", "vs.", "approx."])
_END = re.compile(r"[.?!…][\"'\u201d\u2019)\]]*$")


def ends_sentence(text: str) -> bool:
    """Whether a word, as written, closes its sentence."""
    return bool(_END.search(text)) and text.lower() not in ABBREVIATIONS


def groups(words: Sequence[Word]) -> list[list[Word]]:
    """The words of each sentence, in order."""
    made: list[list[Word]] = []
    for i, word in enumerate(words):
        if not made or _parts(words, i):
            made.append([])
        made[-1].append(word)
    return made


def _parts(words: Sequence[Word], i: int) -> bool:
    before, after = words[i - 1], words[i]
    return ends_sentence(before.text) or after.start_s - before.end_s >= LONG_PAUSE_S


def split(words: Sequence[Word]) -> tuple[Sentence, ...]:
    """Sentences of the words; they never overlap; same clock as the words."""
    made = [
        Sentence(" ".join(w.text for w in group), group[0].start_s, group[-1].end_s)
        for group in groups(words)
    ]
    return tuple(
        Sentence(
            s.text, s.start_s, min(s.end_s, made[i + 1].start_s if i + 1 < len(made) else s.end_s)
        )
        for i, s in enumerate(made)
    )


def spread(text: str, start_s: float, end_s: float, probability: float = 1.0) -> list[Word]:
    """Words of a text laid out over a stretch, each with time in proportion to its letters."""
    tokens = text.split()
    weights = [len(token) + 1 for token in tokens]
    total = sum(weights)
    made: list[Word] = []
    at = 0
    for token, weight in zip(tokens, weights, strict=True):
        begins = start_s + (end_s - start_s) * at / total
        at += weight
        ends = start_s + (end_s - start_s) * at / total
        made.append(Word(token, round(begins, 3), round(ends, 3), probability))
    return made


def words_of(words: Sequence[Word], sentences: Sequence[Sentence]) -> tuple[Word, ...]:
    """The words themselves, or, where there are none, words laid out over the sentences."""
    if words:
        return tuple(words)
    return tuple(w for s in sentences for w in spread(s.text, s.start_s, s.end_s))
