"""Texts made of sentences that each know where they come from, and the wording to choose from."""

from __future__ import annotations

import hashlib
import random
import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from studio.model.speech import TalkingPoint, Transcript

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence (or heading) and what supports it.

    Attributes:
        text: Plain text, one line.
        spans: Stretches of recording time in which it was said.
        measures: Names of the measures that say it.
        strong: How many characters at its head are set in bold in Markdown.
    """

    text: str
    spans: tuple[Span, ...] = ()
    measures: tuple[str, ...] = ()
    strong: int = 0

    def rows(self, where: str, text: str) -> list[dict[str, object]]:
        """Rows of `Summary.sources`: one for each support, one "fixed" where there is none."""
        talk = [_row(text, where, "talk", span=list(span)) for span in self.spans]
        read = [_row(text, where, "measure", measure=name) for name in self.measures]
        return talk + read or [_row(text, where, "fixed")]


def _row(
    text: str, where: str, kind: str, *, span: list[float] | None = None, measure: str | None = None
) -> dict[str, object]:
    return {"text": text, "where": where, "span_s": span, "measure": measure, "kind": kind}


@dataclass(frozen=True, slots=True)
class Section:
    """A heading (empty = none), its paragraphs, and lines that stay lines (`listed`)."""

    heading: str
    paragraphs: tuple[tuple[Line, ...], ...]
    level: int = 2
    listed: bool = False


def plain(text: str) -> str:
    """For a field that refuses "<" and ">"."""
    return text.replace("<", "\u2039").replace(">", "\u203a")


def escaped(text: str) -> str:
    """For Markdown (CommonMark 0.31, backslash escapes): nothing in it is taken for markup."""
    made = re.sub(r"([\\`*_\[\]<>#|~&])", r"\\\1", text)
    made = re.sub(r"^(\s*)([-+=:])", r"\1\\\2", made)
    made = re.sub(r"^(\s*\d+)([.)])(?=\s|$)", r"\1\\\2", made)
    made = re.sub(r"(?i)\b(https?|ftp|mailto)(:)", r"\1\\\2", made)
    return re.sub(r"(?i)\bwww\.", r"www\\.", made)


def strong(line: Line) -> str:
    """A line as Markdown, its first `strong` characters in bold."""
    if not line.strong:
        return escaped(line.text)
    head, rest = line.text[: line.strong], line.text[line.strong :]
    return f"**{escaped(head)}**" + escaped(rest)


def to_plain(sections: Sequence[Section], where: str) -> tuple[str, list[dict[str, object]]]:
    """Text with blank lines between paragraphs, and its sources."""
    blocks: list[str] = []
    rows: list[dict[str, object]] = []
    for section in sections:
        head = [plain(section.heading)] if section.heading else []
        rows += [_row(text, where, "fixed") for text in head]
        bodies = []
        for lines in section.paragraphs:
            texts = [plain(line.text) for line in lines]
            for line, text in zip(lines, texts, strict=True):
                rows += line.rows(where, text)
            bodies.append(("\n" if section.listed else " ").join(texts))
        if bodies:
            blocks += ["\n".join([*head, bodies[0]]), *bodies[1:]]
    return "\n\n".join(blocks) + "\n", rows


def to_markdown(
    title: str, sections: Sequence[Section], where: str = "markdown"
) -> tuple[str, list[dict[str, object]]]:
    """A web post in CommonMark, and its sources."""
    blocks = [f"# {escaped(title)}"]
    rows = [_row(escaped(title), where, "fixed")]
    for section in sections:
        if section.heading:
            blocks.append(f"{'#' * section.level} {escaped(section.heading)}")
            rows.append(_row(escaped(section.heading), where, "fixed"))
        for lines in section.paragraphs:
            texts = [strong(line) for line in lines]
            for line, text in zip(lines, texts, strict=True):
                rows += line.rows(where, text)
            joined = "\n".join(f"- {t}" for t in texts) if section.listed else " ".join(texts)
            blocks.append(joined)
    return "\n\n".join(blocks) + "\n", rows


@cache
def phrases() -> dict[str, Any]:
    """All of phrases.toml."""
    text = resources.files("studio.deliver").joinpath("phrases.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


class Wording:
    """Chooses among ways of saying the same, from the talk alone; repeats none before all stood.

    Args:
        transcript: Its words decide the choice, so that a rerun writes the same.
        athlete: The alias, or "our athlete".
    """

    def __init__(self, transcript: Transcript, athlete: str) -> None:
        said = "\n".join(s.text for s in transcript.sentences)
        self._seed = hashlib.sha256(said.encode("utf-8", "replace")).hexdigest()
        self._left: dict[str, list[str]] = {}
        self.athlete = athlete

    def say(self, part: str, kind: str, **slots: str) -> str:
        """One phrase of phrases.toml, filled in, and used up."""
        made = self.peek(part, kind, **slots)
        self._left[f"{part}.{kind}"].pop(0)
        return made

    def peek(self, part: str, kind: str, **slots: str) -> str:
        """The phrase that `say` would give, left for it."""
        key = f"{part}.{kind}"
        if not self._left.get(key):
            options = list(phrases()[part][kind])
            random.Random(self._seed + key).shuffle(options)
            self._left[key] = options
        made = self._left[key][0]
        all_slots = {"athlete": self.athlete, "Athlete": capital(self.athlete), **slots}
        # in one pass: what is filled in is never looked at again
        return re.sub(r"\{(\w+)\}", lambda m: all_slots[m[1]], made)


def capital(text: str) -> str:
    """With its first letter in capitals."""
    return text[:1].upper() + text[1:]


def topic(point: TalkingPoint) -> str:
    """What a point is about, as a noun with its article."""
    known: dict[str, str] = phrases()["topic"]
    places: dict[str, str] = phrases()["place"]
    return known.get(point.topic) or places.get(point.phase or "") or "the stroke as a whole"


def names_topic(sentence: str, point: TalkingPoint) -> bool:
    """Whether a sentence says of itself what it is about."""
    if re.match(r"(?:it|they|these|those)\b", sentence, re.IGNORECASE):
        return False
    words: dict[str, str] = phrases()["named"]
    known = words.get(point.topic, re.escape(point.topic))
    return bool(re.search(rf"\b(?:{known})", sentence, re.IGNORECASE))


def listing(names: Sequence[str]) -> str:
    """As "a", "a and b", or "a, b and c"."""
    return " and ".join(filter(None, [", ".join(names[:-1]), names[-1]])) if names else ""
