"""Where the athlete has no alias, the name that the coach says is not written either."""

from __future__ import annotations

import pkgutil
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from importlib import import_module

from studio.config import Settings
from studio.deliver.prose import phrases
from studio.model.speech import Chapter, Outline, Transcript

_NAME = r"[A-Z][a-z\u00e0-\u00ff'\u2019-]+"
_BEFORE = (
    r"(?:goes by|got|have|called|named|[Mm]eet|athlete is|name is|[Tt]hank you|[Tt]hanks|[Bb]ravo"
    r"|[Ww]ell done|takes|with|to|for|it's|[Tt]his is|[Hh]ere is|[Hh]ere's|[Ww]elcome|[Hh]ello"
    r"|[Hh]i)"
)
_INSIDE = (
    rf"\b{_BEFORE},? ({_NAME}(?: {_NAME})?)(?=[,.!?]|'s\b| (?:on|who|from|has|is|was|and|in)\b)",
    rf", ({_NAME})(?=[,.!?])",
)
_AT_HEAD = (
    rf"(?:^|[.!?] )({_NAME})(?=, (?:you|I|this|that|keep|it)\b)",
    rf"(?:^|[.!?] )({_NAME}) (?=(?:from|rows|sent|is rowing|was here)\b)",
)
"""How a name stands in a sentence of talk; its capitals tell it, so captions need capitals."""
_CAPITALS = re.compile(r"[a-z,] (?!I\b)[A-Z][a-z]")
_NAMED = re.compile(
    r"\b(?:goes by|is called|is named|(?:his|her|their) name is|sent (?:in|over) by)"
    r" (?!the\b|our\b|a\b)(\w+)",
    re.IGNORECASE,
)
"""Turns of speech that a name follows, with a capital or without."""
_MIDDLE = r"(?<=[a-z,] )[A-Z]\w+"
_PLACED = (
    r"(?i)\b(?:meet|is|thank you|thanks|thanks to|bravo|well done|here's|welcome|hello|hi|have"
    r"|got|by|from|of|our|today|in this one),? (\w+)"
)
"""Where a name often stands, with capitals and without."""
_LANGUAGES = 2
"""Elsewhere a name must be one in so many languages: it may be an ordinary word of English."""


def unnamed(
    outline: Outline, transcript: Transcript, chapters: Sequence[Chapter], settings: Settings
) -> tuple[Outline, Transcript, tuple[Chapter, ...]]:
    """All three with "the athlete" for the names said, where `settings` gives no alias."""
    found = () if settings.athlete.alias else names_said(transcript, settings)
    if not found:
        return outline, transcript, tuple(chapters)
    points = tuple(replace(p, text=without(p.text, found)) for p in outline.points)
    told = tuple(replace(s, text=without(s.text, found)) for s in transcript.sentences)
    titled = tuple(replace(c, title=without(c.title, found)) for c in chapters)
    return replace(outline, points=points), replace(transcript, sentences=told), titled


def names_said(transcript: Transcript, settings: Settings) -> tuple[str, ...]:
    """What looks like a person's name, longest first; series, club and coach are none."""
    about = settings.episode
    known = {w for text in (about.series, about.club, about.coach) for w in text.split()}
    known.update(phrases()["no_name"]["words"].split())
    said = "\n".join(s.text for s in transcript.sentences)
    cased = bool(_CAPITALS.search(said))
    found = {*_NAMED.findall(said)} | (_with_capitals(said) if cased else set())
    placed, words = (_MIDDLE, r"\b[A-Z]\w+") if cased else (_PLACED, r"\w+")
    found |= {w for w in re.findall(placed, said) if w.lower() in _given(1)}
    found |= {w for w in re.findall(words, said) if w.lower() in _given(_LANGUAGES)}
    kept = {name for name in found if not known.intersection(name.split())}
    return tuple(sorted(kept, key=lambda n: (-len(n), n)))


def _with_capitals(said: str) -> set[str]:
    inside = [m for pattern in _INSIDE for m in re.findall(pattern, said)]
    # at a sentence's head any word has a capital: only one that has it elsewhere is a name
    heads = [m for p in _AT_HEAD for m in re.findall(p, said, re.MULTILINE)]
    return {*inside, *(m for m in heads if re.search(rf"[a-z,] {re.escape(m)}\b", said))}


@cache
def _given(languages: int) -> frozenset[str]:
    """Names on so many of faker's lists of given names, small letters; ordinary words aside."""
    from faker.providers import person
    from faker.providers.lorem.en_US import Provider as Ordinary

    seen: Counter[str] = Counter()
    for module in pkgutil.iter_modules(person.__path__):
        if module.ispkg:
            listed = import_module(f"{person.__name__}.{module.name}").Provider
            kinds = (getattr(listed, f"first_names{end}", ()) for end in ("", "_male", "_female"))
            seen.update({n.lower() for k in kinds if not isinstance(k, property) for n in k})
    ordinary = {*Ordinary.word_list, *phrases()["no_name"]["words"].lower().split()}
    common = {name for name, count in seen.items() if count >= languages and len(name) > 2}
    return frozenset(common - ordinary)


def without(text: str, names: Sequence[str]) -> str:
    """A text with each name gone where it is called out, and "the athlete" where it is told of."""
    made = text
    for name in names:
        word = rf"(?<!\w){re.escape(name)}(?!\w)"
        made = re.sub(
            rf",? (?:and the (?:athlete|rower) )?(?:who )?(?:goes by|is called|is named) {word},?",
            ",",
            made,
            flags=re.IGNORECASE,
        )
        made = re.sub(rf",\s*{word}(?=\s*[,.!?])", "", made, flags=re.IGNORECASE)
        made = re.sub(rf"(^|[.!?]\s+){word},\s*", r"\1", made, flags=re.IGNORECASE)
        made = re.sub(rf"(^|[.!?]\s+){word}", r"\1The athlete", made, flags=re.IGNORECASE)
        made = re.sub(word, "the athlete", made, flags=re.IGNORECASE)
    return made
