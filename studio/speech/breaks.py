"""Where a line or a caption may end: the BBC Subtitle Guidelines' rules (section 3.4) as costs."""

from __future__ import annotations

import functools
import re
from collections.abc import Sequence

from studio.speech.hearing import bare
from studio.speech.sentences import ends_sentence

FORBIDDEN = 10.0
"""Cost from which a break splits what the guidelines keep together."""
MAX_LINES = 2
"""Lines of a caption (BBC section 3.3, landscape)."""

_ARTICLES = frozenset(
    [
        "a",
        "an",
        "the",
        "this",
        "these",
        "those",
        "my",
        "your",
        "his",
        "her",
        "its",
        "our",
        "their",
        "every",
        "each",
        "some",
        "any",
        "no",
        "another",
        "very",
        "too",
        "so",
        "quite",
    ]
)
_PREPOSITIONS = frozenset(
    [
        "of",
        "to",
        "in",
        "on",
        "at",
        "for",
        "with",
        "from",
        "by",
        "into",
        "onto",
        "over",
        "under",
        "about",
        "around",
        "through",
        "between",
        "towards",
        "toward",
        "past",
        "up",
        "down",
        "off",
        "out",
        "after",
        "before",
        "behind",
        "across",
        "along",
        "against",
        "without",
        "within",
        "than",
        "as",
        "like",
        "until",
        "during",
        "near",
        "beside",
    ]
)
_CONJUNCTIONS = frozenset(
    [
        "and",
        "but",
        "or",
        "so",
        "because",
        "when",
        "if",
        "which",
        "that",
        "who",
        "while",
        "where",
        "whether",
        "although",
        "though",
        "nor",
        "what",
        "how",
        "why",
        "then",
    ]
)
_PRONOUNS = frozenset(
    [
        "i",
        "you",
        "he",
        "she",
        "it",
        "we",
        "they",
        "i'm",
        "you're",
        "he's",
        "she's",
        "it's",
        "we're",
        "they're",
        "i'll",
        "you'll",
        "he'll",
        "she'll",
        "it'll",
        "we'll",
        "they'll",
        "i'd",
        "you'd",
        "he'd",
        "she'd",
        "we'd",
        "they'd",
        "i've",
        "you've",
        "we've",
        "they've",
        "that's",
        "there's",
        "here's",
        "what's",
        "let's",
        "who's",
    ]
)
_HELPERS = frozenset(
    [
        "am",
        "is",
        "are",
        "was",
        "were",
        "be",
        "been",
        "being",
        "have",
        "has",
        "had",
        "do",
        "does",
        "did",
        "will",
        "would",
        "can",
        "could",
        "should",
        "shall",
        "may",
        "might",
        "must",
        "not",
        "don't",
        "doesn't",
        "didn't",
        "isn't",
        "aren't",
        "wasn't",
        "won't",
        "can't",
        "couldn't",
        "wouldn't",
        "shouldn't",
        "i'm",
        "going",
        "want",
    ]
)
_PARTICLES = frozenset(["up", "down", "off", "out", "on", "over", "in"])
"""Likely to belong to the verb before them: "picked out", "come up"."""
_BEGINNERS = _CONJUNCTIONS - {"that"}


@functools.lru_cache(maxsize=1 << 16)
def cost(before: str, after: str) -> float:
    """Cost of a break between two words as written: 0 best; `FORBIDDEN` and more splits a phrase.

    Best at punctuation; before a conjunction or a preposition is good; never between article and
    noun, preposition and phrase, conjunction and clause, pronoun and verb, or within a verb or a
    number with its unit.
    """
    if ends_sentence(before):
        return 0.0
    if re.search(r"[;:\u2014\u2013]\W*$", before):
        return 0.3
    if re.search(r",\W*$", before):
        return 0.6
    left, right = bare(before), bare(after)
    if left in _ARTICLES | _PREPOSITIONS | _CONJUNCTIONS | _PRONOUNS | _HELPERS:
        return FORBIDDEN
    if re.fullmatch(r"[\d.]+", left) or (before[:1].isupper() and after[:1].isupper()):
        return FORBIDDEN
    if right in _BEGINNERS:
        return 1.5
    if right in _PARTICLES:
        return 4.0
    if right in _PREPOSITIONS or right == "that":
        return 2.5
    if right in _PRONOUNS:
        return 3.0
    return 4.5


def lay_out(tokens: Sequence[str], max_chars: int) -> tuple[float, tuple[str, ...]]:
    """The best lines for some words: their cost, and the lines.

    One line where it fits; else the better-balanced of the best breaks, the upper line preferably
    the shorter. The cost is infinite where two lines of `max_chars` do not hold the words.
    """
    whole = " ".join(tokens)
    if len(whole) <= max_chars:
        return 0.0, (whole,)
    best: tuple[float, tuple[str, ...]] = (float("inf"), ())
    upper = 0
    for k in range(1, len(tokens)):
        upper += len(tokens[k - 1]) + (k > 1)
        lower = len(whole) - upper - 1
        if upper > max_chars:
            break
        if lower > max_chars:
            continue
        uneven = abs(lower - upper) / max_chars + (0.2 if upper > lower else 0.0)
        price = cost(tokens[k - 1], tokens[k]) + 1.5 * uneven
        if price < best[0]:
            best = (price, (whole[:upper], whole[upper + 1 :]))
    return best
