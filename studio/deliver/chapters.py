"""Chapters in the shapes that video hosts, browsers and podcast players read."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace

from studio.model.speech import Chapter
from studio.timebase import clock_face

MIN_S = 10
"""Shortest chapter as printed in whole seconds; a shorter one disables a video host's whole list
(common practice of video hosts, not a standard)."""
PODCAST_VERSION = "1.2.0"
"""Podcasting 2.0 JSON chapters, podcast-namespace `chapters/jsonChapters.md`, 2021-04-15."""
_WEIGHT = {"change": 3, "keep": 2, "recap": 2, "background": 1, "intro": 1, "outro": 0}


def enforce(chapters: Sequence[Chapter], duration_s: float) -> tuple[Chapter, ...]:
    """Chapters that start at 0:00, leave no gap, and last at least 10 s as printed.

    One that would be too short goes into its neighbour; the more telling title stays.

    Args:
        chapters: In any order, on one clock; those outside 0 to `duration_s` are dropped.
        duration_s: Where the last one ends, on the same clock.
    """
    inside = sorted((c for c in chapters if c.start_s < duration_s), key=lambda c: c.start_s)
    made: list[Chapter] = []
    for chapter in inside:
        start_s = max(chapter.start_s, 0.0) if made else 0.0
        one = replace(chapter, start_s=start_s, title=_title(chapter.title))
        if made and int(start_s) - int(made[-1].start_s) < MIN_S:
            made[-1] = _merged(made[-1], one)
        else:
            made.append(one)
    while len(made) > 1 and int(duration_s) - int(made[-1].start_s) < MIN_S:
        last = made.pop()
        made[-1] = _merged(made[-1], last)
    ends = [*(c.start_s for c in made[1:]), duration_s][: len(made)]
    return tuple(replace(c, end_s=end) for c, end in zip(made, ends, strict=True))


def _merged(first: Chapter, second: Chapter) -> Chapter:
    """The two as one from the first's start, under the more telling title (a tie: the longer)."""
    first_tells = _weight(first), first.end_s - first.start_s
    second_tells = _weight(second), second.end_s - second.start_s
    told = second if second_tells > first_tells else first
    return replace(told, start_s=first.start_s)


def _weight(chapter: Chapter) -> int:
    return _WEIGHT.get(chapter.kind or "", 1) + (1 if chapter.phase else 0)


def _title(title: str) -> str:
    """On one line; never empty."""
    return " ".join("".join(c if c.isprintable() else " " for c in title).split()) or "Chapter"


def to_text(chapters: Sequence[Chapter]) -> str:
    """One "m:ss Title" a line, for a video's description; "<" and ">" are refused there."""
    hours = bool(chapters) and chapters[-1].start_s >= 3600
    return "".join(f"{clock_face(c.start_s, hours=hours)} {_plain(c.title)}\n" for c in chapters)


def _plain(title: str) -> str:
    return _title(title).replace("<", "\u2039").replace(">", "\u203a")


def to_vtt(chapters: Sequence[Chapter], duration_s: float) -> str:
    """A WebVTT chapters file: chapter title text only, escaped, in order, never overlapping.

    Follows W3C WebVTT, "WebVTT file using chapter title text".
    """
    starts_ms = [round(c.start_s * 1000) for c in chapters]
    ends_ms = [*starts_ms[1:], round(duration_s * 1000)]
    blocks = ["WEBVTT"]
    for chapter, start, end in zip(chapters, starts_ms, ends_ms, strict=False):
        if end > start:
            blocks.append(f"{_clock(start)} --> {_clock(end)}\n{_escaped(_title(chapter.title))}")
    return "\n\n".join(blocks) + "\n"


def _clock(ms: int) -> str:
    seconds, ms = divmod(ms, 1000)
    minutes, second = divmod(seconds, 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{second:02d}.{ms:03d}"


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def to_json(chapters: Sequence[Chapter], *, title: str = "") -> str:
    """Podcasting 2.0 chapters, version 1.2; times in seconds."""
    rows = [
        {"startTime": round(c.start_s, 3), "endTime": round(c.end_s, 3), "title": _title(c.title)}
        for c in chapters
    ]
    about = {"title": title} if title else {}
    whole = {"version": PODCAST_VERSION, **about, "chapters": rows}
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"
