"""How coaches speak: the words of `lexicon.toml`, and finding them in a sentence."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

NEGATION_REACH = 4
"""Words over which "not" carries, unless a pause mark or "but" stands between."""
_SHORT = (
    ("won't", "will not"), ("can't", "can not"), ("cannot", "can not"), ("shan't", "shall not"),
    ("let's", "let us"), ("n't", " not"), ("'ll", " will"), ("'re", " are"), ("'ve", " have"),
    ("'m", " am"), ("'d", " would"),
)  # fmt: skip
_SAME = {"bar": "handle", "kneecaps": "knees", "kneecap": "knee", "gonna": "going to",
         "gotta": "got to", "wanna": "want to", "cause": "because", "butt": "seat",
         "folks": "people",
         "till": "until", "til": "until"}  # fmt: skip
"""Words said for others, as patterns know them."""
_IS = re.compile(
    r"\b(it|that|there|he|she|here|what|who|where|how|this|one|everything|nothing|body|seat|handle)"
    r"'s\b"
)
_GAPS = {"..": r"(?:\S+ ){0,4}", "...": r"(?:\S+ ){0,9}"}


@dataclass(frozen=True, slots=True)
class Plain:
    """A sentence as patterns see it.

    Attributes:
        text: Plain lower-case words, each followed by one space.
        starts: Character at which each word begins.
        breaks: Words after which a comma, a stop or the like stands.
    """

    text: str
    starts: tuple[int, ...]
    breaks: frozenset[int]

    @property
    def words(self) -> list[str]:
        """The words alone."""
        return self.text.split()

    def word_at(self, character: int) -> int:
        """Index of the word at a character."""
        return bisect_right(self.starts, character) - 1


def plain(text: str) -> Plain:
    """A sentence with short forms written out, hyphens as spaces, and no punctuation."""
    low = text.lower().replace("\u2019", "'").replace("-", " ").replace("o'clock", "o clock")
    for short, full in _SHORT:
        low = low.replace(short, full)
    low = _IS.sub(r"\1 is", low).replace("'s ", " ")
    words: list[str] = []
    breaks: set[int] = set()
    for token in low.split():
        word = re.sub(r"[^\w.]|\.(?!\d)", "", token)
        words += _SAME.get(word, word).split()
        if words and token[-1] in ",;:.?!\u2014\u2026":
            breaks.add(len(words) - 1)
    starts: list[int] = []
    at = 0
    for word in words:
        starts.append(at)
        at += len(word) + 1
    return Plain("".join(f"{w} " for w in words), tuple(starts), frozenset(breaks))


def _token(token: str) -> str:
    if token in _GAPS:
        return _GAPS[token]
    optional = token.endswith("?")
    words = "|".join(
        re.escape(w.rstrip("?*")) + (r"\w*" if w.endswith("*") else "")
        for w in token.rstrip("?").split("|")
    )
    return f"(?:(?:{words}) )" + ("?" if optional else "")


@cache
def compiled(pattern: str) -> re.Pattern[str]:
    """A pattern of `lexicon.toml` as a regular expression over `Plain.text`."""
    first = pattern.startswith("^ ")
    body = "".join(_token(t) for t in pattern.removeprefix("^ ").split())
    return re.compile(("^" if first else r"(?<!\S)") + body)


def find(patterns: tuple[str, ...], sentence: Plain) -> list[tuple[int, int]]:
    """Where the patterns occur: word ranges, half-open; of overlapping ones the longest only."""
    found: list[tuple[int, int]] = []
    for pattern in patterns:
        for match in compiled(pattern).finditer(sentence.text):
            if match.end() > match.start():
                begins = sentence.word_at(match.start())
                found.append((begins, sentence.word_at(match.end() - 1) + 1))
    kept: list[tuple[int, int]] = []
    for begins, ends in sorted(found, key=lambda f: (f[0] - f[1], f[0])):
        if all(ends <= a or begins >= b for a, b in kept):
            kept.append((begins, ends))
    return sorted(kept)


def negated(sentence: Plain, where: tuple[int, int]) -> bool:
    """Whether a negator reaches the words at `where`, or stands among them."""
    words = sentence.words
    negators = frozenset(act("negator"))
    first, past = where
    inside = [w for w in words[first:past] if w in negators]
    for i in range(first - 1, max(-1, first - 1 - NEGATION_REACH), -1):
        if words[i] in ("but", "so", "because") or (i in sentence.breaks):
            break
        if words[i] == "no" and words[i + 1] in ("reason", "excuse"):
            break
        if words[i] in negators:
            return not inside
    return False


@cache
def table() -> dict[str, Any]:
    """All of `lexicon.toml`."""
    text = resources.files("studio.speech").joinpath("lexicon.toml").read_text("utf-8")
    return tomllib.loads(text)


@cache
def act(name: str) -> tuple[str, ...]:
    """Patterns of what is being done with the words."""
    return tuple(table()["act"][name])


@cache
def verbs(name: str) -> frozenset[str]:
    """Verbs of a kind."""
    return frozenset(table()["verbs"][name])


@cache
def phase_words(phase: str) -> tuple[str, ...]:
    """Patterns that name a phase."""
    return tuple(table()["phase"][phase])


@cache
def topic_words(topic: str, strength: str) -> tuple[str, ...]:
    """Patterns that point to a topic: "sure", "likely" or "hint"."""
    return tuple(table()["topic"][topic][strength])


def topics() -> tuple[str, ...]:
    """Every topic a talking point can have."""
    return tuple(table()["topic"])


def phases_of(topic: str) -> dict[str, float]:
    """How readily the topic belongs to each phase when nobody says which."""
    found: dict[str, float] = table()["topic"].get(topic, {}).get("phases", {})
    return found
