"""Captions as SubRip and WebVTT text."""

from __future__ import annotations

import re
from collections.abc import Sequence

from studio.model.speech import Cue

MAX_MS = 99 * 3_600_000 + 59 * 60_000 + 59_999
"""The last moment that SubRip's two-digit hours can write."""


def to_srt(cues: Sequence[Cue]) -> str:
    """SubRip text, UTF-8, by pysrt; times of the cues' own clock.

    SubRip has no way to escape: an arrow in a caption is written "->" and angle brackets are
    replaced by look-alikes, so that no player takes words for tags.
    """
    from pysrt import SubRipFile, SubRipItem, SubRipTime

    items = [
        SubRipItem(
            index=number,
            start=SubRipTime.from_ordinal(cue.start_ms),
            end=SubRipTime.from_ordinal(cue.end_ms),
            text=_plain("\n".join(filter(None, map(_one_line, cue.lines)))) or "\u00a0",
        )
        for number, cue in enumerate(_ordered(cues), start=1)
    ]
    return "".join(f"{item}\n" for item in SubRipFile(items=items))


def to_vtt(cues: Sequence[Cue]) -> str:
    """WebVTT text by https://www.w3.org/TR/webvtt1/ (section 4), escaped; starts strictly rise."""
    blocks = ["WEBVTT\n"]
    for cue in _ordered(cues):
        lines = [_escaped(line) for line in cue.lines if _one_line(line)] or ["\u00a0"]
        blocks.append(
            "\n".join([f"{_stamp(cue.start_ms)} --> {_stamp(cue.end_ms)}", *lines]) + "\n"
        )
    return "\n".join(blocks)


def _ordered(cues: Sequence[Cue]) -> list[Cue]:
    """Cues by start; two never start together, and each lasts at least a millisecond."""
    made: list[Cue] = []
    for cue in sorted(cues, key=lambda c: (c.start_ms, c.end_ms)):
        start = max(cue.start_ms, made[-1].start_ms + 1 if made else 0)
        end = max(cue.end_ms, start + 1)
        if end <= MAX_MS:
            made.append(Cue(start, end, cue.lines))
    return made


def _one_line(line: str) -> str:
    # any character that some program takes for the end of a line, or that no text may hold
    return re.sub(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufeff]+", " ", line).strip()


def _plain(text: str) -> str:
    kept = text.replace("-->", "->")
    tagged = re.search(r"<[^<]*>", kept)
    return kept.replace("<", "\u2039").replace(">", "\u203a") if tagged else kept


def _escaped(line: str) -> str:
    return _one_line(line).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _stamp(ms: int) -> str:
    hours, rest = divmod(ms, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
