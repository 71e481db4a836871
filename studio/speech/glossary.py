"""Trade terms and names put right where the recogniser misheard them, and the coach's own fixes."""

from __future__ import annotations

import functools
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from importlib.resources import files

from rapidfuzz.distance import Levenshtein

from studio.config import Settings, WordFix
from studio.model.speech import Repair, Transcript, Word
from studio.speech.hearing import bare
from studio.speech.numbers import SPELT
from studio.speech.sentences import ends_sentence, split, words_of

UNSURE = 0.6
"""A word surer than this is only changed for a phrase that has no sense of its own."""
CLOSE = 4
"""How many words to either side count as close by."""


@dataclass(frozen=True, slots=True)
class Glossary:
    """The data file: phrases (heard words -> text), near misses, openings, spellings."""

    phrases: tuple[tuple[tuple[str, ...], str], ...]
    near: tuple[tuple[str, frozenset[str]], ...]
    opening: dict[str, str]
    spelling: dict[str, str]


@functools.cache
def glossary() -> Glossary:
    """The trade's words from `glossary.toml`."""
    plain = tomllib.loads((files("studio.speech") / "glossary.toml").read_text(encoding="utf-8"))
    phrases = [
        (tuple(heard.split()), entry["text"])
        for entry in plain["phrase"]
        for heard in entry["heard"]
    ]
    phrases.sort(key=lambda pair: -len(pair[0]))
    near = tuple((entry["text"], frozenset(entry["with"])) for entry in plain["near"])
    return Glossary(tuple(phrases), near, plain["opening"], plain["spelling"])


def repair(
    words: Sequence[Word], settings: Settings
) -> tuple[tuple[Word, ...], tuple[Repair, ...]]:
    """Words with misheard terms and names put right, and what was changed.

    Args:
        words: As heard, recording time.
        settings: Names come from `episode` and `athlete.alias`; spelling from the language.
    """
    made = list(words)
    told: list[Repair] = []
    trade = glossary()
    if settings.episode.language.lower().split("-")[0] == "en":
        for heard, text in trade.phrases:
            made = _swap(made, heard, text, told)
        for text, beside in trade.near:
            made = _near(made, text, beside, told)
        made = _opened(made, trade.opening, told)
        if settings.episode.language.lower() in ("en", "en-gb"):
            for heard_word, text in trade.spelling.items():
                made = _swap(made, (heard_word,), text, told)
    for name in _names(settings):
        made = _name(made, name, told)
    told.sort(key=lambda r: r.start_s)
    return tuple(made), tuple(told)


def apply_fixes(transcript: Transcript, fixes: Sequence[WordFix]) -> Transcript:
    """The transcript with the coach's word fixes, wherever what was heard occurs.

    Case and punctuation around the words do not matter; the words' times stay.
    """
    made = list(words_of(transcript.words, transcript.sentences)) if fixes else []
    told: list[Repair] = []
    for fix in fixes:
        heard = tuple(bare(w) for w in fix.heard.split() if bare(w))
        if heard:
            made = _swap(made, heard, fix.text, told)
    if not told:
        return transcript
    return replace(
        transcript,
        words=tuple(made),
        sentences=split(made),
        repairs=tuple(sorted((*transcript.repairs, *told), key=lambda r: r.start_s)),
    )


def _swap(words: list[Word], heard: tuple[str, ...], text: str, told: list[Repair]) -> list[Word]:
    """Replace every run of words that reads `heard`; no run crosses the end of a sentence."""
    size = len(heard)
    made: list[Word] = []
    i = 0
    while i < len(words):
        run = words[i : i + size]
        if tuple(bare(w.text) for w in run) == heard and _whole(run):
            made += _put(run, text, told)
            i += size
        else:
            made.append(words[i])
            i += 1
    return made


def _whole(run: Sequence[Word]) -> bool:
    return not any(re.search(r"[.?!;]\W*$", w.text) for w in run[:-1])


def _put(run: Sequence[Word], text: str, told: list[Repair]) -> list[Word]:
    """`text` in place of `run`: its punctuation, its capital and its time."""
    opening = re.match(r"^\W*", run[0].text)
    closing = re.search(r"\W*$", run[-1].text)
    core = run[0].text.lstrip("\"'\u201c\u2018([")
    if core[:1].isupper():
        text = text[:1].upper() + text[1:]
    whole = f"{opening.group() if opening else ''}{text}{closing.group() if closing else ''}"
    heard = " ".join(w.text for w in run)
    tokens = whole.split()
    if heard == whole:
        return list(run)
    told.append(Repair(heard, whole, run[0].start_s))
    start, end = run[0].start_s, run[-1].end_s
    sure = max(min(w.probability for w in run), UNSURE)
    if len(tokens) == len(run):
        return [replace(w, text=t, probability=sure) for w, t in zip(run, tokens, strict=True)]
    share = (end - start) / len(tokens) if tokens else 0.0
    return [
        Word(t, round(start + k * share, 3), round(start + (k + 1) * share, 3), sure)
        for k, t in enumerate(tokens)
    ]


_SOUNDS = (
    (r"^one$", "wun"), (r"^kn", "n"), (r"^wr", "r"), (r"ph", "f"), (r"gh", ""), (r"ck", "k"),
    (r"(?:tch|ch|sh|dg|ge|gi|j)", "j"), (r"^g(?=[ei])", "j"), (r"c(?=[eiy])", "s"), (r"[cq]", "k"),
    (r"x", "ks"), (r"z", "s"), (r"[mn]", "n"), (r"d", "t"), (r"v", "f"), (r"b", "p"), (r"g", "k"),
)  # fmt: skip
"""Spelling to rough sound: voiced and unvoiced are one, and so are the nasals, which blur."""


def sound(text: str) -> str:
    """The consonants of a word by rough sound; a vowel counts only at the very beginning."""
    made = re.sub(r"[^a-z]", "", text.lower())
    for pattern, put in _SOUNDS:
        made = re.sub(pattern, put, made)
    made = re.sub(r"(.)\1+", r"\1", made)
    first = "a" if made[:1] in "aeiou" else made[:1]
    return first + re.sub(r"[aeiouhyw]", "", made[1:])


def _alike(heard: str, text: str) -> bool:
    """Whether two words sound alike but for one consonant in three."""
    a, b = sound(heard), sound(text)
    if not a or not b or a[0] != b[0]:
        return False
    far = Levenshtein.distance(a, b)
    return far == 0 or (min(len(a), len(b)) >= 3 and far == 1)


def _near(words: list[Word], text: str, beside: frozenset[str], told: list[Repair]) -> list[Word]:
    made: list[Word] = []
    for i, word in enumerate(words):
        around = words[max(0, i - CLOSE) : i] + words[i + 1 : i + 1 + CLOSE]
        doubtful = word.probability < UNSURE and bare(word.text) != text
        related = bare(word.text).rstrip("s") == text.rstrip("s")
        if (
            doubtful and not related and _alike(bare(word.text), text)
            and any(bare(w.text) in beside for w in around)
        ):  # fmt: skip
            made += _put([word], text, told)
        else:
            made.append(word)
    return made


def _opened(words: list[Word], opening: dict[str, str], told: list[Repair]) -> list[Word]:
    made: list[Word] = []
    for i, word in enumerate(words):
        first = i == 0 or ends_sentence(words[i - 1].text)
        text = opening.get(bare(word.text), "")
        if first and text and word.probability < UNSURE and word.text[-1].isalnum():
            made += _put([word], text, told)
        else:
            made.append(word)
    return made


def _names(settings: Settings) -> list[str]:
    """Names of the episode, longest first; the words of one name are matched together."""
    about = settings.episode
    names = [settings.athlete.alias, about.coach, about.series, about.club]
    return sorted({n.strip() for n in names if n.strip()}, key=lambda n: (-len(n), n))


def _name(words: list[Word], name: str, told: list[Repair]) -> list[Word]:
    """Put a misheard name right: the run of words, of about its length, that fits it best."""
    made: list[Word] = []
    size = len(name.split())
    i = 0
    while i < len(words):
        fits = [(_fit(words, i, n, name), -n) for n in range(max(1, size - 1), size + 3)]
        best, length = max(fits)
        # the next word may begin a better run: "the Quilwater Rowing Club"
        later = max(_fit(words, i + 1, n, name) for n in range(max(1, size - 1), size + 3))
        if best > 0 and best >= later:
            made += _put_name(words[i : i - length], name, told)
            i -= length
        else:
            made.append(words[i])
            i += 1
    return made


def _put_name(run: Sequence[Word], name: str, told: list[Repair]) -> list[Word]:
    last = re.search(r"(?i)('s|\u2019s)?(\W*)$", run[-1].text)
    owned = bool(last and last.group(1)) and not name.lower().endswith("s")
    return _put(run, name + ("'s" if owned else ""), told)


def _fit(words: Sequence[Word], i: int, length: int, name: str) -> float:
    """How well a run of words reads or sounds as a name: 0 not at all, 1 letter for letter."""
    run = words[i : i + length]
    if len(run) < length or not _whole(run):
        return 0.0
    heard = "".join(re.sub(r"'s$", "", bare(w.text)) for w in run)
    wanted = re.sub(r"[^a-z]", "", name.lower())
    alike = Levenshtein.normalized_similarity(heard, wanted)
    if len(wanted) <= 4:
        # a short name sounds like many words: it must be doubted and stand where a name stands
        called = length == 1 and run[0].probability < 0.8 and _called(words, i)
        return max(alike, 0.1) if alike == 1 or (called and sound(heard) == sound(wanted)) else 0.0
    if sound(heard) == sound(wanted):
        # several everyday words are further from a name in letters than one strange word
        return alike if alike >= (0.55 if length > len(name.split()) else 0.6) else 0.0
    return alike if alike >= 0.8 else 0.0


_BEFORE_NAME = frozenset((
    "is", "it's", "with", "thanks", "hi", "hello", "for", "to", "from", "by", "meet", "and", "well",
    "done",
))  # fmt: skip
_NUMBERS = frozenset((*SPELT[1:11], *"123456"))


def _called(words: Sequence[Word], i: int) -> bool:
    """Whether the word stands where a name does: "this is X.", "..., X, ..."."""
    text = words[i].text
    if i == 0 or text[-1].isalnum():
        return False
    before = words[i - 1].text
    after = bare(words[i + 1].text) if i + 1 < len(words) else ""
    if after in _NUMBERS or bare(before) in _NUMBERS:
        return False
    return before[-1] == "," or bare(before) in _BEFORE_NAME
