"""Written talks as labelled truth: `tests/data/talks/*.talk` laid out in time, and their captions.

A `.talk` file has a head (`style:`, `athlete:`, `captions:` typed or auto, `use:` develop or held),
then `= kind phase | title` where a chapter begins, and `part phase topic | sentence` for each
sentence; `&` joins two labels of one sentence, `+` names further topics that are fair answers, `-`
is no phase. At the end `must: fact => key` and `not: statement => key` say what a summary has to
hold and must never say. A key is a row of patterns joined by ` & `, all in one sentence; `!` before
a pattern forbids it.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from studio.model.speech import Transcript, Word
from studio.speech.sentences import split, spread

FOLDER = Path(__file__).parents[1] / "tests" / "data" / "talks"
POINTS = ("keep", "change", "coaching_cue", "drill")
WORDS_A_SECOND = 2.7
"""A talk-over at ease, about 160 words a minute."""
PAUSES_S = (0.35, 0.6, 0.2, 0.9, 0.45, 0.12, 0.7)
"""Pauses behind sentences, in turn: some are too short to be told from a breath."""
CHAPTER_PAUSE_S = 1.3
CUE_WORDS = 7
CUE_PAUSE_S = 0.3
"""Automatic captions run on across a shorter pause."""


def names(use: str) -> list[str]:
    """The talks to develop on, or those held back."""
    return [
        path.stem for path in sorted(FOLDER.glob("*.talk"))
        if f"use: {use}\n" in path.read_text(encoding="utf-8")
    ]  # fmt: skip


def keys(kit_talk: str) -> dict[str, list[str]]:
    """Keys of the kit's own `summary_must` and `summary_must_not`, in their order."""
    text = (Path(__file__).parent / "summary_keys.toml").read_text(encoding="utf-8")
    found: dict[str, list[str]] = tomllib.loads(text).get(kit_talk, {})
    return found


def read_talk(path: Path) -> dict[str, Any]:
    """A talk in the shape of the kit's: sentences, chapters, points, what a summary must hold."""
    made: dict[str, Any] = {
        "name": path.stem, "sentences": [], "chapters": [], "points": [], "must": [], "not": [],
    }  # fmt: skip
    at = 0.5
    last: dict[str, Any] = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("= "):
            kind, phase = line[2:].split(" | ")[0].split()
            at += CHAPTER_PAUSE_S if made["chapters"] else 0.0
            made["chapters"].append(
                {"start_s": round(at, 3) if made["chapters"] else 0.0, "kind": kind,
                 "phase": _phase(phase), "title": line.split(" | ")[1]}
            )  # fmt: skip
        elif " | " in line:
            labels, text = line.split(" | ", 1)
            end = at + len(text.split()) / WORDS_A_SECOND
            made["sentences"].append(
                {
                    "text": text,
                    "start_s": round(at, 3),
                    "end_s": round(end, 3),
                    "part": labels.split()[0],
                }
            )
            last = _mark(made["points"], labels, at, end, last)
            at = end + PAUSES_S[len(made["sentences"]) % len(PAUSES_S)]
        elif re.match(r"(must|not): ", line):
            where, rest = line.split(": ", 1)
            made[where].append(tuple(rest.split(" => ")))
        elif ": " in line:
            name, value = line.split(": ", 1)
            made[name] = value
    return made


def _phase(text: str) -> str | None:
    return None if text == "-" else text


def _mark(
    points: list[dict[str, Any]], labels: str, start_s: float, end_s: float, last: dict[str, Any]
) -> dict[str, Any]:
    """Add a sentence's points, or lengthen those of the sentence before; returns the open ones."""
    opened: dict[str, Any] = {}
    for label in labels.split(" & "):
        part, *rest = label.split()
        if part not in POINTS:
            continue
        if label in last:
            last[label]["end_s"] = round(end_s, 3)
            opened[label] = last[label]
            continue
        topic, *also = " ".join(rest[1:]).split("+")
        opened[label] = {
            "kind": part, "phase": _phase(rest[0]), "topic": topic, "also": also,
            "start_s": round(start_s, 3), "end_s": round(end_s, 3), "gist": "",
        }  # fmt: skip
        points.append(opened[label])
    return opened


def as_typed(talk: dict[str, Any]) -> Transcript:
    """The talk's sentences as they are written; a row may hold several."""
    words = [w for r in talk["sentences"] for w in spread(r["text"], r["start_s"], r["end_s"])]
    return Transcript("en", (), split(words), talk["name"])


def as_automatic(talk: dict[str, Any]) -> str:
    """The talk as automatic captions give it: lower case, no marks, across sentence ends."""
    words: list[Word] = []
    for row in talk["sentences"]:
        bare = re.sub(r"[^\w' ]", "", row["text"].lower().replace("-", " "))
        words += spread(bare, row["start_s"], row["end_s"])
    cues: list[list[Word]] = []
    for word in words:
        full = cues and len(cues[-1]) >= CUE_WORDS
        if not cues or full or word.start_s - cues[-1][-1].end_s >= CUE_PAUSE_S:
            cues.append([])
        cues[-1].append(word)
    blocks = []
    for number, cue in enumerate(cues, 1):
        start, end = cue[0].start_s, cue[-1].end_s
        if number < len(cues) and cues[number][0].start_s - end < CUE_PAUSE_S:
            end = cues[number][0].start_s
        text = " ".join(w.text for w in cue)
        blocks.append(f"{number}\n{_stamp(start)} --> {_stamp(end)}\n{text}\n")
    return "\n".join(blocks)


def _stamp(at_s: float) -> str:
    ms = round(at_s * 1000)
    return f"{ms // 3600000:02}:{ms // 60000 % 60:02}:{ms // 1000 % 60:02},{ms % 1000:03}"


def says(text: str, key: str) -> bool:
    """Whether one sentence of a text holds every pattern of a key, and none that it forbids."""
    for sentence in re.split(r"(?<=[.?!])\s+|\n", text.lower().replace("\u2019", "'")):
        plain = sentence.replace("-", " ")
        if all(
            bool(re.search(rf"\b(?:{p.lstrip('!')})", plain)) != p.startswith("!")
            for p in key.split(" & ")
        ):
            return True
    return False
