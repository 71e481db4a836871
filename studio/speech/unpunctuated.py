"""Sentences in captions that have no capitals and no full stops, as automatic captions come."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from studio.model.speech import Word
from studio.speech.hearing import bare
from studio.speech.sentences import ends_sentence

PLAIN = 40
"""With fewer than one full stop in this many words a text counts as unpunctuated; people who write
sentences use one in 10 to 25."""
PAUSE_S = 0.15
"""A gap between captions from here on says that the speaker paused."""
USUAL, LONGEST = 14, 60
"""Words of a spoken sentence: from the first on it grows unlikely, the second is never passed."""

_PRICE = 1.7
"""What a sentence end costs; the evidence for it must be worth more."""
_STARTS = {
    "okay": 2.2, "ok": 2.2, "alright": 2.2, "hello": 2.2, "hey": 2.0, "hi": 2.0, "thanks": 1.6,
    "now": 1.8, "so": 1.3, "next": 1.1, "but": 1.0, "let's": 1.8, "let": 0.9, "watch": 0.9,
    "here's": 1.2, "there's": 0.9, "that's": 1.0, "it's": 0.8, "he's": 0.9, "she's": 0.9,
    "you're": 0.8, "we're": 0.8, "they're": 0.6, "i'm": 1.0, "i've": 1.0, "i'd": 1.0, "i'll": 1.1,
    "i": 0.9, "we": 0.7, "we'll": 0.9, "you": 0.5, "he": 0.6, "she": 0.6, "they": 0.4, "it": 0.3,
    "this": 0.6, "there": 0.6, "here": 0.5, "these": 0.4, "and": 0.7, "because": -0.4, "what": 0.5,
    "how": 0.3, "why": 0.4, "if": 0.5, "when": 0.3, "first": 0.4, "second": 0.4, "look": 0.8,
    "don't": 0.6, "your": 0.4, "the": 0.3, "my": 0.3, "one": 0.3, "yes": 1.4, "yeah": 1.4,
    "no": 0.9, "well": 0.6, "anyway": 1.6, "um": 0.8, "uh": 0.8, "right": 0.6, "good": 0.2,
    "keep": 0.3, "do": 0.2, "excuse": 1.8, "bye": 1.6, "sorry": 1.2, "think": 0.4,
    "on": 0.1, "at": 0.1, "in": 0.1,
}  # fmt: skip
"""How readily a word opens a spoken sentence; the rest (negative) seldom do."""
_SELDOM = -0.8
_OPEN_ENDED = frozenset([
    "a", "an", "the", "this", "these", "my", "your", "his", "her", "its", "our", "their", "of",
    "to", "in", "on", "at", "for", "with", "from", "by", "into", "onto", "about", "between",
    "towards", "and", "but", "or", "because", "if", "when", "which", "that", "who", "while",
    "where", "than", "as", "i", "you're", "he's", "she's", "we're", "they're", "it's", "that's",
    "there's", "here's", "i'm", "i'll", "i'd", "i've", "we'll", "we'd", "you've", "we've", "is",
    "are", "was", "were", "be", "been", "has", "have", "had", "will", "would", "can", "could",
    "should", "might", "must", "don't", "doesn't", "isn't", "aren't", "can't", "won't", "very",
    "really", "so", "just", "not", "let's", "every", "each", "some", "any", "they", "we", "he",
    "she", "quite", "too", "then", "what", "how", "or", "hey", "also", "your", "under", "until",
    "till", "having", "getting", "going", "being",
])  # fmt: skip
"""Words that a sentence does not end on."""
_CLAUSE_VERBS = frozenset(["think", "see", "know", "say", "mean", "feel", "want", "like"])
"""Words that a pronoun follows within the sentence: "I think you ..."."""
_TIED = frozenset([
    ("and", "then"), ("so", "that"), ("so", "much"), ("as", "well"), ("of", "course"),
    ("before", "this"), ("out", "there"), ("right", "here"), ("right", "there"),
])  # fmt: skip
_NOUNS = frozenset(["body", "trunk", "back", "head", "seat", "handle", "chain", "hands", "arms",
                    "elbows", "wrists", "shoulders", "hips", "legs", "knees", "shins", "heels",
                    "feet", "catch", "drive", "finish", "recovery", "rhythm"])  # fmt: skip
_DOING = frozenset(["are", "were", "have", "go", "come", "stay", "stop", "bend", "wait", "move",
                    "drop", "rise", "lift", "push", "start", "begin", "hang", "look"])  # fmt: skip
_PRONOUNS = frozenset(["i", "i'", "yo", "he", "sh", "it", "we", "th"])
_HELPING = frozenset(["is", "are", "do", "does", "did", "can", "could", "should", "would", "have"])
_ASKING = frozenset(["what", "why", "how", "where", "who", "which"])
_SUBJECTS = frozenset(["i", "you", "he", "she", "it", "we", "they", "that", "this", "there"])


def unpunctuated(words: Sequence[Word]) -> bool:
    """Whether the words come without full stops."""
    return len(words) > PLAIN and sum(ends_sentence(w.text) for w in words) * PLAIN < len(words)


def punctuate(words: Sequence[Word]) -> tuple[Word, ...]:
    """Words with a capital and a full stop for every sentence that can be told.

    The cut of the whole talk is found by dynamic programming from pauses, words that open
    sentences, words that cannot end one, and the usual length of a spoken sentence.
    """
    best = [0.0] + [-math.inf] * len(words)
    came = [0] * (len(words) + 1)
    for j in range(1, len(words) + 1):
        gain = _gain(words, j) if j < len(words) else 0.0
        for i in range(max(0, j - LONGEST), j):
            score = best[i] + gain - _length(j - i)
            if score > best[j]:
                best[j], came[j] = score, i
    ends = [len(words)]
    while ends[-1]:
        ends.append(came[ends[-1]])
    ends.reverse()
    made: list[Word] = []
    for a, b in pairwise(ends):
        made += _written(words[a:b])
    return tuple(made)


def _gain(words: Sequence[Word], j: int) -> float:
    """Evidence that a sentence ends before word j."""
    before, after = bare(words[j - 1].text), bare(words[j].text)
    gain = _STARTS.get(after, _SELDOM) - _PRICE
    pause = words[j].start_s - words[j - 1].end_s
    if pause >= PAUSE_S:
        gain += 2.6 + min(1.0, pause)
    if before in _OPEN_ENDED and pause < 1:
        gain -= 4.0
    if j > 1 and bare(words[j - 2].text) == "how" and pause < 1:
        gain -= 4.0  # "how tall | you sit"
    if after == "the" and _subject(words[j + 1 : j + 3]):
        gain += 1.4
    if (before, after) in _TIED or (before in _CLAUSE_VERBS and after[:2] in _PRONOUNS):
        gain -= 2.0
    if ends_sentence(words[j - 1].text):
        gain += 6.0
    return gain


def _subject(words: Sequence[Word]) -> bool:
    """Whether a part of the body or machine and a verb follow: "the | body leans"."""
    if len(words) < 2:
        return False
    noun, verb = (bare(w.text) for w in words)
    doing = verb in _DOING or (verb.endswith("s") and not verb.endswith("ss"))
    return noun in _NOUNS and doing


def _length(count: int) -> float:
    if count < 3:
        return 1.2 * (3 - count)
    return 0.0 if count <= USUAL else 0.12 * (count - USUAL)


def _written(run: Sequence[Word]) -> list[Word]:
    """One sentence: capital, "I", and a full stop or question mark."""
    made = [replace(w, text=_first_person(w.text)) for w in run]
    made[0] = replace(made[0], text=made[0].text[:1].upper() + made[0].text[1:])
    if not ends_sentence(made[-1].text):
        mark = "?" if _asks(run) else "."
        made[-1] = replace(made[-1], text=made[-1].text.rstrip(",;:-") + mark)
    return made


def _first_person(text: str) -> str:
    return "I" + text[1:] if bare(text) == "i" or bare(text)[:2] == "i'" else text


def _asks(run: Sequence[Word]) -> bool:
    """A question by its first two words: "what would ...", "is that ..."; short ones only."""
    first, second = (bare(w.text) for w in (run[0], run[min(1, len(run) - 1)]))
    if first in ("do", "have") and second in ("this", "that", "it"):
        return False  # "do this every day", an instruction
    asking = first in _ASKING and second in _HELPING
    return 2 < len(run) <= USUAL and (asking or (first in _HELPING and second in _SUBJECTS))
