"""Captions and chapters from recording time to program time, through the inserted holds."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from studio.edit.shots import Clock
from studio.model.plan import Hold
from studio.model.speech import Chapter, Cue
from studio.timebase import s_to_ms

EDGE_MS = 300
"""A hold this near a caption's end cuts off none of its words: captions lead and hang that much."""
LONGEST_MS = 7000
"""Longest time one caption may stay (streaming practice, docs/captions.md)."""


def program_cues(cues: Iterable[Cue], clock: Clock, holds: Iterable[Hold]) -> tuple[Cue, ...]:
    """Captions on program time.

    One that an inserted hold falls into stays through the hold, or, where that would be longer than
    7 s, is shared out: the words said before the hold, then the words said after it.
    """
    gaps = [
        (s_to_ms(h.program_start_s), s_to_ms(h.program_start_s + h.duration_s))
        for h in holds
        if h.inserted
    ]
    moved: list[Cue] = []
    for cue in cues:
        start = s_to_ms(clock.after(Fraction(cue.start_ms, 1000)))
        end = s_to_ms(clock.before(Fraction(cue.end_ms, 1000)))
        if end <= start:  # a caption of no length on the program: its moment was cut away
            continue
        moved += _around(Cue(start, end, cue.lines), gaps)
    return tuple(_in_turn(moved))


def _in_turn(cues: list[Cue]) -> list[Cue]:
    """One caption at a time: one that runs into the next gives way to it."""
    kept: list[Cue] = []
    for cue in sorted(cues, key=lambda c: c.start_ms):
        while kept and kept[-1].end_ms > cue.start_ms:
            last = kept.pop()
            if last.start_ms < cue.start_ms:
                kept.append(Cue(last.start_ms, cue.start_ms, last.lines))
        kept.append(cue)
    return kept


def _around(cue: Cue, gaps: list[tuple[int, int]]) -> list[Cue]:
    for start, end in gaps:
        if not cue.start_ms < start < end < cue.end_ms:
            continue
        if start - cue.start_ms < EDGE_MS:
            return _around(Cue(end, cue.end_ms, cue.lines), gaps)
        if cue.end_ms - end < EDGE_MS:
            return [Cue(cue.start_ms, start, cue.lines)]
        if cue.end_ms - cue.start_ms > LONGEST_MS:
            return _shared(cue, start, end)
    return [cue]


def _shared(cue: Cue, start_ms: int, end_ms: int) -> list[Cue]:
    """Two captions before and after a hold, words in proportion to the time spoken."""
    spoken = (start_ms - cue.start_ms) + (cue.end_ms - end_ms)
    share = (start_ms - cue.start_ms) / spoken
    words = [(row, word) for row, line in enumerate(cue.lines) for word in line.split()]
    first = min(max(1, round(share * len(words))), len(words) - 1)
    if first < 1:
        return [Cue(cue.start_ms, start_ms, cue.lines)]
    head, tail = _lines(words[:first]), _lines(words[first:])
    return [Cue(cue.start_ms, start_ms, head), Cue(end_ms, cue.end_ms, tail)]


def _lines(words: list[tuple[int, str]]) -> tuple[str, ...]:
    rows = sorted({row for row, _ in words})
    return tuple(" ".join(w for r, w in words if r == row) for row in rows)


def program_chapters(
    chapters: Iterable[Chapter], clock: Clock, duration_s: Fraction
) -> tuple[Chapter, ...]:
    """Chapters on program time: from 0, contiguous, to the very end."""
    found = list(chapters)
    if not found:
        return ()
    starts = [0.0, *(float(clock.after(Fraction(c.start_s))) for c in found[1:])]
    ends = [*starts[1:], float(duration_s)]
    return tuple(
        Chapter(start, end, chapter.title, chapter.phase, chapter.kind)
        for chapter, start, end in zip(found, starts, ends, strict=True)
        if end > start
    )
