"""What surrounds the points: who rows, what the clip is, the coach's last word, the caution."""

from __future__ import annotations

import re

from studio.config import Settings
from studio.deliver.prose import Line, Section, Wording
from studio.deliver.spoken import clean, lowered, one_line, sentences, staged
from studio.model.speech import Outline, Sentence, Transcript

NOBODY = "our athlete"
LONGEST = 60
"""Characters of an alias: no text may be filled by it."""
MOST = 4
"""Sentences of background at most."""
_TOLD = (
    r"\b(?:\d+|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty|thirty"
    r"|forty)(?:[- ]\w+)?\s+(?:strokes?|weeks?|months?|years?|seconds?|minutes?|degrees?|frames?"
    r"|spm|met(?:er|re)s?)\b",
    r"\brate\b|\bsteady\b|\bpiece\b|\btwenty[- ]\w+\b|\bstrokes a minute\b",
    r"\bclip\b|\bfilmed\b|\bcamera\b|\bside view\b|\bfrom the side\b|\bside on\b|\bmachine\b",
    r"\blast (?:month|time|week)\b|\bfollow[- ]up\b|\bsent in\b|\bgoes by\b|\bweeks in\b|\bnever\b",
)
_IDLE = re.compile(
    r"\b(?:subscribe|like button|comments?|cup of tea|garage|weather|hello|hey everybody|welcome"
    r"|good (?:morning|evening|afternoon)|channel|link|i will go|i'll roll|then we'll talk"
    r"|let me|homeworks?|fancy words|straight in)\b",
    re.IGNORECASE,
)
_FIRST = re.compile(
    r"\b(?:if i had to pick|pick one|only one thing|just one thing|one thing only|one thing to"
    r"|(?:first|top|number one) priority|priority one|most important|the one (?:thing|drill)"
    r"|start with|before anything else)\b",
    re.IGNORECASE,
)


_ORDERED = re.compile(r"\bin order of (?:priority|importance)\b", re.IGNORECASE)
_ONE = re.compile(r"^(?:and )?(?:number |priority )?(?:one|first)\W+", re.IGNORECASE)


def who(settings: Settings) -> str:
    """The alias, or "our athlete"."""
    return one_line(settings.athlete.alias)[:LONGEST] or NOBODY


def names(settings: Settings) -> tuple[str, ...]:
    """Names whose spelling is the coach's."""
    about = settings.episode
    given = (settings.athlete.alias, about.series, about.club, about.coach)
    return tuple(filter(None, map(one_line, given)))


def background(transcript: Transcript, outline: Outline, settings: Settings) -> list[Line]:
    """What the coach tells of athlete and clip before the first point."""
    until_s = min((p.start_s for p in outline.points), default=float("inf"))
    alias = settings.athlete.alias
    rated: list[tuple[int, int, Line]] = []
    for at, sentence in enumerate(_spoken(transcript)):
        if sentence.start_s >= until_s or at > 25:
            break
        text = clean(sentence.text, names(settings))
        worth = _worth(text, alias)
        if worth > 0 and not staged(text):
            rated.append((-worth, at, Line(text, ((sentence.start_s, sentence.end_s),))))
    best = sorted(rated, key=lambda r: r[:2])[:MOST]
    return [line for _, _, line in sorted(best, key=lambda r: r[1])]


def _worth(text: str, alias: str) -> int:
    told = sum(bool(re.search(p, text, re.IGNORECASE)) for p in _TOLD)
    named = bool(alias) and alias.lower() in text.lower()
    return told + named - 2 * bool(_IDLE.search(text))


def _spoken(transcript: Transcript) -> list[Sentence]:
    return [
        Sentence(text, s.start_s, s.end_s)
        for s in transcript.sentences
        for text in sentences(s.text)
    ]


def address(wording: Wording, outline: Outline) -> list[Section]:
    """Where the coach says "you" to the athlete all through, the reader is told so."""
    said = " ".join(p.text for p in outline.points if p.kind in ("keep", "change"))
    spoken_to = len(re.findall(r"\byou(?:r|rs|'re|'ve|'ll)?\b", said, re.IGNORECASE))
    spoken_of = len(re.findall(r"\b(?:he|she|his|her|him|they)(?:'s|'re)?\b", said, re.IGNORECASE))
    if spoken_to < 3 or spoken_to <= 2 * spoken_of:
        return []
    kind = "second_unnamed" if wording.athlete == NOBODY else "second"
    return [Section("", ((Line(wording.say("address", kind)),),))]


def priority(
    wording: Wording, transcript: Transcript, outline: Outline, given: tuple[str, ...]
) -> list[Section]:
    """The coach's own "if it is only one thing", or the first of an order of priority."""
    after_s = max((p.end_s for p in outline.points), default=float("inf"))
    recap = [s for s in _spoken(transcript) if s.start_s >= after_s]
    for sentence, following in zip(recap, [*recap[1:], None], strict=False):
        if _ORDERED.search(sentence.text) and following is not None:
            text = clean(_ONE.sub("", following.text), given)
            text = wording.say("last", "first", said=lowered(text, given)) if text else ""
            sentence = following
        elif _FIRST.search(sentence.text):
            text = clean(sentence.text, given)
        else:
            continue
        if text:
            return [Section("", ((Line(text, ((sentence.start_s, sentence.end_s),)),),))]
    return []


def caution(wording: Wording, settings: Settings) -> list[Section]:
    """Describe, never diagnose; who is shown, and how."""
    athlete = settings.athlete
    told = sentences(wording.say("caution", "lines"))
    if athlete.under_18:
        told += sentences(wording.say("caution", "under_18"))
    agreed = athlete.consent == "yes"
    if athlete.alias:
        told.append(wording.say("caution", "alias_consent" if agreed else "alias"))
    elif agreed:
        told.append(wording.say("caution", "consent"))
    lines = tuple(Line(text) for text in told)
    return [Section(wording.say("section", "caution"), (lines,))]
