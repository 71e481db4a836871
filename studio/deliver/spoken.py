"""The coach's spoken sentences made readable: fillers, false starts and stage directions go."""

from __future__ import annotations

import re
import unicodedata

_FILLERS = (
    r"(?:,\s*)?\b(?:u+m+|u+h+|e+r+m*|hm+)\b,?",
    r"(?:,\s*|^)(?:you know|i mean|how do you say|what is it|hang on|you see this here|quote|"
    r"like|yeah|yep|look|bless (?:her|him|them)|no,? wait|in my opinion)(?=\s*,)",
    r"(?:^|(?<=,\s))i mean\s+(?=\w)",
    r"(?<!\ba )(?<!\ban )(?<!\bthe )(?<!\bthis )(?<!\bthat )(?<!\bsome )(?<!\bany )(?<!\bof )"
    r"(?<!\bwhat )\b(?:sort|kind) of\s+",
    r",\s*(?:isn't it|doesn't it|aren't they|right|you know|that's all|i think|look|or anything)"
    r"(?=\s*[,.!?]|$)",
)
_LEADS = re.compile(
    r"^(?:(?:so|and|okay|ok|right|now|well|oh|also|again|then|only|anyway|alright|all right|yeah|"
    r"next|hey|see|but|look|cue|drill|correction|recovery|timing|catch|drive|finish|"
    r"(?:(?:my|the|this) )?(?:first|second|third|fourth|fifth|next|last|other|half a|one new|"
    r"final)(?: \w+)?(?: thing| one| point| homework)?(?: is| was)?|same place)\s*[,:;]\s*"
    r"|(?:so|and|okay|but|now|oh)\s+(?=(?!far|that|much|many)\w))",
    re.IGNORECASE,
)
_CUE_LEADS = re.compile(
    r"^(?:what i(?:'d| would)? (?:want|like) (?:you )?to (?:think|do) (?:is|about is),?\s*"
    r"|(?:so )?think that\s+|i(?:'d| would) like you to\s+|i want you to\s+"
    r"|(?:if you want )?(?:a|the|one|your|my) (?:cue|drill|exercise)(?: for (?:it|this|that))?"
    r"(?: is)?[,:]?\s+(?:is\s+)?|here's something to try,\s*|small exercise,\s*"
    r"|let's flip that,\s*)",
    re.IGNORECASE,
)
_STAGE = re.compile(
    r"\b(?:let me (?:just )?(?:stop|get|drag|pause|show|go|play|roll|find|draw|put)"
    r"|(?:i'll|i will|i'm going to|i'm gonna) (?:just )?(?:drag|pause|stop|roll|play|draw|sneak)"
    r"|hang on|here on the (?:left|right)|(?:this|that) i said already|made a (?:red )?circle"
    r"|what moves first|one new thing)\b",
    re.IGNORECASE,
)
_AGAIN = re.compile(r"\b(\w[\w' ]{2,40}?),\s+\1\b(?=\s*,)\s*,?", re.IGNORECASE)
_STUTTER = re.compile(r"\b(\w+)\s+\1\b", re.IGNORECASE)
_SPLIT = re.compile(r"(?<=[.!?…])[\"'”’)]*\s+(?=\S)")
_FEWEST = 4
"""Fewer words than this are a pointer ("Drive, first third."), not a statement."""


def sentences(text: str) -> list[str]:
    """The sentences of a text as spoken, by their punctuation."""
    return [s for s in _SPLIT.split(one_line(text)) if s]


def one_line(text: str) -> str:
    """Without line ends, control characters and marks that turn the direction of writing."""
    kept = (" " if unicodedata.category(c)[0] in "CZ" and c != "\u200d" else c for c in text)
    return " ".join("".join(kept).split())


def clean(text: str, names: tuple[str, ...] = ()) -> str:
    """One sentence without fillers, false starts and connectives at its head; "" = none left.

    Args:
        text: As spoken.
        names: Written as given wherever they occur (captions may lack capitals).
    """
    made = one_line(text)
    for filler in _FILLERS:
        made = re.sub(filler, "", made, flags=re.IGNORECASE)
    made = _STUTTER.sub(r"\1", _AGAIN.sub(r"\1,", made))
    before = ""
    while before != made:
        before = made
        made = _LEADS.sub("", made.lstrip(" ,;:–—-"), count=1)
    return finish(made, names)


def imperative(text: str, names: tuple[str, ...] = ()) -> str:
    """A cue or drill without its announcement ("What I want you to think is, ...")."""
    made = clean(text, names)
    return finish(_CUE_LEADS.sub("", made), names)


def finish(text: str, names: tuple[str, ...] = ()) -> str:
    """Spacing, capitals and a full stop put right."""
    made = re.sub(r"\s+([,.;:!?])", r"\1", " ".join(text.split()))
    made = re.sub(r"([,;:])(?:\s*[,;:])+", r"\1", made).strip(" ,;:")
    made = re.sub(r",(?=[.!?])", "", made)
    made = re.sub(r"\bi(?=\b(?!\.\w))(?!-)", "I", made)
    for name in names:
        made = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", lambda _, n=name: n, made, flags=re.I)
    if not re.search(r"\w", made):
        return ""
    made = made[0].upper() + made[1:]
    return made if made[-1] in ".!?…" else made + "."


def staged(text: str) -> bool:
    """Whether a sentence only steers the screen or is too short to say anything."""
    return bool(_STAGE.search(text)) or len(re.findall(r"\w+", text)) < _FEWEST


def statements(text: str, names: tuple[str, ...] = ()) -> list[str]:
    """The sentences that say something, cleaned; all of them where none would be left."""
    spoken = sentences(text)
    told = [clean(s, names) for s in spoken if not staged(s)]
    told = [s for s in told if s and not staged(s)]
    return told or [s for s in (clean(s, names) for s in spoken) if s]


def lowered(sentence: str, names: tuple[str, ...] = ()) -> str:
    """A sentence to stand after a colon."""
    first = sentence.split()[0].strip(",.") if sentence.split() else ""
    proper = first in ("I", "I'm", "I'd", "I've", "I'll") or any(
        sentence.startswith(name) for name in names if name
    )
    return (
        sentence
        if proper or first.isupper() and len(first) > 1
        else (sentence[:1].lower() + sentence[1:])
    )
