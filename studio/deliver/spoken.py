"""The coach's spoken sentences made readable: fillers, false starts and stage directions go."""

from __future__ import annotations

import itertools
import re
import unicodedata

_FILLERS = (
    # what stands between commas and says nothing leaves one comma behind
    (r",\s*(?:u+m+|u+h+|e+r+m*|hm+|oh|look|see|quote|like|yeah|yep|right here|you see(?: this)?"
     r"(?: here)?|you know|how do you say|bless (?:her|him|them)|in my opinion|though)"
     r"(?=\s*,)", ""),
    (r"(?:,\s*)?\b(?:u+m+|u+h+|e+r+m*|hm+)\b,?", ""),
    (r",\s*(?:what is it|hang on|no,? wait|wait)\s*,", ""),
    (r",\s*i mean\b,?", ";"),
    (r"^i mean\b,?", ""),
    (r"\byeah,\s*", ""),
    (r"(?<!\ba )(?<!\ban )(?<!\bthe )(?<!\bthis )(?<!\bthat )(?<!\bsome )(?<!\bany )(?<!\bof )"
     r"(?<!\bwhat )\b(?:sort|kind) of\s+", ""),
    (r",\s*(?:isn't it|doesn't it|aren't they|right|you know|that's all|i think|look|or anything"
     r"|in my opinion)(?=\s*[,.!?]|$)", ""),
    (r"\bor anything(?=\s*,)", ""),
    (r",\s*i(?:'ve| have)(?: even)? (?:made|drawn|put) a[^,.]* (?:there|here)(?=[,.])", ""),
)  # fmt: skip
"""What is taken out, and what stands in its place."""
_LEADS = re.compile(
    r"^(?:(?:so|and|okay|ok|right|now|well|oh|also|again|then|only|anyway|alright|all right|yeah|"
    r"next|hey|see|but|look(?!, how)|cue|drill|correction|recovery|timing|catch|drive|finish|here|"
    r"here on the (?:left|right)|"
    r"(?:(?:my|the|this) )?(?:first|second|third|fourth|fifth|next|last|other|half a|one new|"
    r"final)(?: thing| one| point| homework)?|same place)\s*[,:;]\s*"
    r"|(?:first|second|third|fourth|next|last) (?:thing|one) (?=the\b)"
    r"|(?:i'll|i will|let me) (?:just |also )?[^,]{0,30}\b(?:thing|point|one),\s*"
    r"|(?:so|okay|but|now|oh)\s+(?=(?!far|that|much|many)\w)|and\s+(?=\w))",
    re.IGNORECASE,
)
_CUE_LEADS = re.compile(
    r"^(?:what i(?:'d| would)? (?:want|like) (?:you )?to (?:think|do)(?: about)? is,?\s*"
    r"|(?:so )?think (?:that|about|of)\s+|i(?:'d| would)? (?:like|want) (?:you|him|her|them) to\s+"
    r"|(?:for|as) (?:a|the|one) (?:drill|exercise),\s*(?:try\s+)?"
    r"|(?:(?:if you want|here is|here's)\s+)?(?:(?:a|the|one|your|my)\s+)?(?:coaching )?"
    r"(?:cue|drill|exercise)(?:,? for (?:it|this|that))?(?:(?: is)?[,:.]\s*| is\s+|$)"
    r"|here's something to try,\s*|(?:a |one )?small exercise,\s*|let's flip that,\s*)",
    re.IGNORECASE,
)
_STAGE = re.compile(
    r"\b(?:let me (?!tell|say|be\b)|(?:i'll|i will|i'm going to|i'm gonna) (?:just )?"
    r"(?:drag|pause|stop|roll|play|draw|put|zoom|go|wind|step|freeze)"
    r"|(?:one|a|two|few|seven|some) frames? (?:at a time|on)|hang on"
    r"|(?:this|that) i said already)\b"
    r"|\b(?:first|second|third|last) (?:change|thing|point) is an? \w+ one\b"
    r"|^(?:\w+,? )?what (?:do|would|did) (?:i|we)\b[^.]*\?"
    r"|^here(?:'s| is) the (?:clip|video)\b|^stop,? (?:here|there|at|in)\b",
    re.IGNORECASE,
)
_STEERED = re.compile(
    r"^(?:(?:so|okay|ok|now|right),? )?(?:let me|i'll|i will|i'm going to|i'm gonna) [^,.!?]{2,50},"
    r" and (?:here|there|now|you(?: can)? see(?: that)?),? (?=(?:[\w'-]+\W+){4})",
    re.IGNORECASE,
)
"""What steers the screen before a statement in the same breath."""
_SHOWS = re.compile(r"^(?:watch|look at|notice) ", re.IGNORECASE)
_PRONOUN = re.compile(r"^(?:they|it|it's|they're)\b", re.IGNORECASE)
_BARE_NOUN = re.compile(
    r"^(?:the|an?|my|your|his|her|their) (?:\w+ ?){1,2}(?:(?:of|at|in|on) the \w+)?\W*$",
    re.IGNORECASE,
)
_AGAIN = re.compile(r"\b(\w[\w' ]{2,40}?),\s+\1\b(?=\s*,)\s*,?", re.IGNORECASE)
_STUTTER = re.compile(r"\b([\w']+),?\s+\1(?![\w'])", re.IGNORECASE)
_MEANT = frozenset(["had", "that", "very", "really", "way", "long", "slow", "now", "no"])
"""Words that are said twice on purpose, or rightly."""
_SPLIT = re.compile(r"(?<=[.!?…])[\"'\u201d\u2019)]*\s+(?=\S)")
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
    for filler, instead in _FILLERS:
        made = re.sub(filler, instead, made, flags=re.IGNORECASE)
    made = _STUTTER.sub(_once, _AGAIN.sub(r"\1,", made))
    before = ""
    while before != made:
        before = made
        made = _LEADS.sub("", made.lstrip(" ,;:\u2013\u2014-"), count=1)
    return finish(made, names)


def _once(twice: re.Match[str]) -> str:
    return twice[0] if twice[1].lower() in _MEANT else twice[1]


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
        as_given = name.replace("\\", r"\\")
        made = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", as_given, made, flags=re.IGNORECASE)
    if not re.search(r"\w", made):
        return ""
    made = made[0].upper() + made[1:]
    return made if made[-1] in ".!?…" else made + "."


def staged(text: str) -> bool:
    """Whether a sentence only steers the screen or is too short to say anything."""
    few = len(re.findall(r"\w+", text)) < _FEWEST
    return few or bool(_STAGE.search(text)) or bool(_BARE_NOUN.match(text))


def _introduces(sentence: str, after: str) -> bool:
    """Whether it shows what the next one only calls "they": "Watch your hands. They ..."."""
    return bool(_SHOWS.match(sentence) and _PRONOUN.match(after))


def statements(text: str, names: tuple[str, ...] = ()) -> list[str]:
    """The sentences that say something, cleaned; short ones only where there is nothing else.

    What steers the screen is left out, by itself or at a sentence's head, and so is a question that
    is left without its answer.
    """
    said = [_STEERED.sub("", s) for s in sentences(text)]
    cleaned = [(s, clean(s, names)) for s in said if not _STAGE.search(s)]
    told = [
        made
        for (spoken, made), (_, after) in itertools.pairwise([*cleaned, ("", "")])
        if made and (_introduces(made, after) or not (staged(spoken) or staged(made)))
    ]
    while told and told[-1].endswith("?"):
        told.pop()
    return told or [made for _, made in cleaned if made and made[-1] != "?"]


def lowered(sentence: str, names: tuple[str, ...] = ()) -> str:
    """A sentence to stand after a colon."""
    first = sentence.split()[0].strip(",.") if sentence.split() else ""
    proper = first in ("I", "I'm", "I'd", "I've", "I'll") or any(
        sentence.startswith(name) for name in names if name
    )
    return (
        sentence
        if proper or (first.isupper() and len(first) > 1)
        else (sentence[:1].lower() + sentence[1:])
    )
