"""Every rule for captions: how many break it, where, and which of those nothing could help."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from studio.config import Corrections
from studio.model.plan import EditPlan
from studio.model.speech import Cue, Transcript, Word
from studio.speech import breaks, cue_times
from studio.speech.caption_fixes import nearest

_FAR_S = 6.0
"""How far from a caption its words are looked for."""


@dataclass(frozen=True, slots=True)
class _Breach:
    cue: Cue
    value: float
    unavoidable: bool = False


def report(
    cues: Sequence[Cue],
    *,
    max_chars: int,
    words: Sequence[Word] = (),
    corrections: Corrections | None = None,
) -> dict[str, Any]:
    """What a reader of the captions would hold against them.

    Args:
        cues: On any clock.
        max_chars: Characters a line.
        words: On the same clock as the cues: needed to tell early and late captions, and speed
            that is the coach's own; without them neither is judged.
        corrections: Those that found no caption are listed.

    Returns:
        {"captions": n, "rules": [{"rule", "limit", "source", "breaking", "unavoidable", "where":
        [{"start_s", "text", "value", "unavoidable"}]}], "corrections_without_caption": [seconds]}.
    """
    spoken = _spans(cues, words)
    rules: list[tuple[str, float, str, list[_Breach]]] = [
        ("lines", breaks.MAX_LINES, "BBC 3.3",
         _over(cues, lambda c: len(c.lines), breaks.MAX_LINES)),
        ("characters a line", max_chars, "BBC 3.1",
         _over(cues, lambda c: max((len(x) for x in c.lines), default=0), max_chars)),
        ("words a minute", cue_times.WORDS_PER_MINUTE, "BBC 4",
         _fast(cues, spoken, _words, cue_times.WORDS_PER_MINUTE / 60, 60)),
        ("characters a second", cue_times.CHARS_PER_SECOND, "streaming practice",
         _fast(cues, spoken, _chars, cue_times.CHARS_PER_SECOND, 1)),
        ("shortest, s", cue_times.SHORTEST_MS / 1000, "5/6 s",
         [_Breach(c, _length(c)) for c in cues if c.end_ms - c.start_ms < cue_times.SHORTEST_MS]),
        ("longest, s", cue_times.LONGEST_MS / 1000, "7 s",
         [_Breach(c, _length(c)) for c in cues if c.end_ms - c.start_ms > cue_times.LONGEST_MS]),
        ("gap, s", cue_times.PAUSE_MS / 1000, "BBC 4.5",
         [_Breach(b, (b.start_ms - a.end_ms) / 1000) for a, b in pairwise(cues)
          if 0 < b.start_ms - a.end_ms < cue_times.PAUSE_MS]),
        ("overlap, s", 0, "one caption at a time",
         [_Breach(b, (a.end_ms - b.start_ms) / 1000) for a, b in pairwise(cues)
          if b.start_ms < a.end_ms]),
        ("early or late, s", cue_times.SLACK_MS / 1000, "BBC 5.2", _away(cues, spoken)),
        ("phrase split by a line", 0, "BBC 3.4", _split_lines(cues)),
        ("phrase split by a caption", 0, "BBC 3.4", _split_cues(cues)),
    ]  # fmt: skip
    fixes = corrections.captions if corrections else ()
    return {
        "captions": len(cues),
        "rules": [_row(*rule) for rule in rules],
        "corrections_without_caption": [f.recording_s for f in fixes if nearest(cues, f) is None],
    }


def on_program(transcript: Transcript | None, plan: EditPlan) -> tuple[Word, ...]:
    """The words of a transcript at their program times; those that were cut away are left out."""
    made: list[Word] = []
    for word in transcript.words if transcript else ():
        start, end = plan.program_time(word.start_s), plan.program_time(word.end_s)
        if start is not None and end is not None:
            made.append(replace(word, start_s=start, end_s=end))
    return tuple(made)


def _row(rule: str, limit: float, source: str, broken: list[_Breach]) -> dict[str, Any]:
    return {
        "rule": rule,
        "limit": limit,
        "source": source,
        "breaking": len(broken),
        "unavoidable": sum(b.unavoidable for b in broken),
        "where": [
            {
                "start_s": b.cue.start_ms / 1000,
                "text": " ".join(b.cue.lines),
                "value": round(b.value, 2),
                "unavoidable": b.unavoidable,
            }
            for b in broken
        ],
    }


def _words(cue: Cue) -> int:
    return sum(len(line.split()) for line in cue.lines)


def _chars(cue: Cue) -> int:
    return len(" ".join(cue.lines))


def _length(cue: Cue) -> float:
    return (cue.end_ms - cue.start_ms) / 1000


def _over(cues: Sequence[Cue], value: Callable[[Cue], float], limit: float) -> list[_Breach]:
    return [_Breach(c, value(c)) for c in cues if value(c) > limit]


def _spans(cues: Sequence[Cue], words: Sequence[Word]) -> list[tuple[float, float, float] | None]:
    """When each caption's words are said and the next begin, s; None where they cannot be told.

    A caption's first and last words are looked for around its own times.
    """
    made: list[tuple[float, float, float] | None] = []
    for cue in cues:
        tokens = " ".join(cue.lines).split()
        first = _find(words, tokens[0] if tokens else "", cue.start_ms / 1000, ahead=True)
        last = _find(words, tokens[-1] if tokens else "", cue.end_ms / 1000, ahead=False)
        if first is None or last is None or words[last].end_s <= words[first].start_s:
            made.append(None)
            continue
        following = words[last + 1].start_s if last + 1 < len(words) else words[last].end_s + 5
        made.append((words[first].start_s, words[last].end_s, following))
    return made


def _find(words: Sequence[Word], token: str, at_s: float, *, ahead: bool) -> int | None:
    """Index of the word that reads `token` nearest to a moment, within `_FAR_S`."""
    best: tuple[float, int] | None = None
    for i, word in enumerate(words):
        time = word.start_s if ahead else word.end_s
        if (
            word.text == token
            and abs(time - at_s) <= _FAR_S
            and (not best or abs(time - at_s) < best[0])
        ):
            best = (abs(time - at_s), i)
    return best[1] if best else None


def _fast(
    cues: Sequence[Cue],
    spoken: Sequence[tuple[float, float, float] | None],
    count: Callable[[Cue], int],
    limit: float,
    scale: float,
) -> list[_Breach]:
    """Captions with more words or characters a second than the limit.

    Unavoidable: the coach says them faster than that, even with the pause behind them.
    """
    made: list[_Breach] = []
    for cue, span in zip(cues, spoken, strict=True):
        # half a millisecond on the caption's length is rounding
        speed = count(cue) / ((cue.end_ms - cue.start_ms + 0.5) / 1000)
        if speed > limit:
            own = span is not None and count(cue) / max(0.001, span[2] - span[0]) > limit
            made.append(_Breach(cue, speed * scale, own))
    return made


def _away(
    cues: Sequence[Cue], spoken: Sequence[tuple[float, float, float] | None]
) -> list[_Breach]:
    made: list[_Breach] = []
    for cue, span in zip(cues, spoken, strict=True):
        if span is None:
            continue
        far = max(abs(cue.start_ms / 1000 - span[0]), abs(cue.end_ms / 1000 - span[1]))
        if far > cue_times.SLACK_MS / 1000 + 0.001:
            made.append(_Breach(cue, far))
    return made


def _split_lines(cues: Sequence[Cue]) -> list[_Breach]:
    made: list[_Breach] = []
    for cue in cues:
        for a, b in pairwise([line for line in cue.lines if line.split()]):
            if breaks.cost(a.split()[-1], b.split()[0]) >= breaks.FORBIDDEN:
                made.append(_Breach(cue, 1))
    return made


def _split_cues(cues: Sequence[Cue]) -> list[_Breach]:
    made: list[_Breach] = []
    for a, b in pairwise([c for c in cues if " ".join(c.lines).split()]):
        before, after = " ".join(a.lines).split()[-1], " ".join(b.lines).split()[0]
        if breaks.cost(before, after) >= breaks.FORBIDDEN:
            made.append(_Breach(a, 1))
    return made
