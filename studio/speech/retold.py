"""What has been said before and is said again: the mark of a recap in whatever words.

Lexical cohesion in the sense of Hearst M., "TextTiling", Computational Linguistics 23, 1997, turned
round: a recap shares rare words with several distant places of the talk and not with its neighbour.
"""

from __future__ import annotations

from collections.abc import Sequence

from studio.speech import lexicon
from studio.speech.lexicon import Plain, find, verbs

APART = 4
"""A place counts as another one from so many sentences on."""
RARE = 3
"""A word in more sentences than this says nothing of where it was used."""
STEM = 5
"""Letters by which two forms of a word are known as one."""


def retold(sentences: Sequence[Plain]) -> list[int]:
    """How many distinct earlier places each sentence takes up again."""
    stems = [_stems(s) for s in sentences]
    spread: dict[str, int] = {}
    for own in stems:
        for stem in own:
            spread[stem] = spread.get(stem, 0) + 1
    made: list[int] = []
    for i, own in enumerate(stems):
        rare = {s for s in own if spread[s] <= RARE}
        places: list[int] = []
        for j in range(max(0, i - APART)):
            if rare & stems[j] and (not places or j - places[-1] >= APART):
                places.append(j)
        made.append(len(places))
    return made


def listed(sentences: Sequence[Plain]) -> list[float]:
    """How many topics beyond one each sentence names that were spoken of before: going over."""
    made: list[float] = []
    seen: list[set[str]] = []
    for sentence in sentences:
        own = {t for t in lexicon.topics() if find(lexicon.topic_words(t, "sure"), sentence)}
        told = {t for t in lexicon.topics() if find(lexicon.topic_words(t, "likely"), sentence)}
        known = set().union(*seen[:-2]) if len(seen) > 2 else set()
        made.append(float(max(0, len(own & known) - 1)))
        seen.append(own | told)
    return made


def shifted(sentences: Sequence[Plain]) -> list[bool]:
    """Whether each sentence names topics outright and none that the sentence before may mean."""
    made: list[bool] = []
    before: set[str] = set()
    for sentence in sentences:
        own = {t for t in lexicon.topics() if find(lexicon.topic_words(t, "sure"), sentence)}
        told = {t for t in lexicon.topics() if find(lexicon.topic_words(t, "likely"), sentence)}
        made.append(bool(own and before and not own & before))
        before = own | told or before
    return made


def _stems(sentence: Plain) -> set[str]:
    return {w[:STEM] for w in sentence.words if len(w) > 3 and w not in verbs("common")}
