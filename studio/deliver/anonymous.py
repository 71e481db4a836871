"""Where the athlete has no alias, the name that the coach says is not written either."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from studio.config import Settings
from studio.deliver.prose import phrases
from studio.model.speech import Chapter, Outline, Transcript

_NAME = r"[A-Z][a-z\u00e0-\u00ff'\u2019-]+"
_BEFORE = (
    r"(?:goes by|got|have|called|named|[Mm]eet|athlete is|name is|[Tt]hank you|[Tt]hanks|[Bb]ravo"
    r"|[Ww]ell done|takes|with|to|for|it's|this is|[Hh]ere is|[Hh]ere's|[Ww]elcome|[Hh]ello|[Hh]i)"
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
_GOES_BY = re.compile(r"\b(?:goes by|is called|is named) (?!the\b|our\b)(\w+)", re.IGNORECASE)


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
    inside = [m for pattern in _INSIDE for m in re.findall(pattern, said)]
    # at a sentence's head any word has a capital: only one that has it elsewhere is a name
    heads = [m for p in _AT_HEAD for m in re.findall(p, said, re.MULTILINE)]
    sure = [m for m in heads if re.search(rf"[a-z,] {re.escape(m)}\b", said)]
    found = {*inside, *sure, *_GOES_BY.findall(said)}
    kept = {name for name in found if not known.intersection(name.split())}
    return tuple(sorted(kept, key=lambda n: (-len(n), n)))


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
