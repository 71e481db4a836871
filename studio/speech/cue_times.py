"""When each caption comes and goes: readable, and never far from the voice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SHORTEST_MS = 834
"""5/6 s, rounded up: the usual lower limit of a caption's time on screen."""
LONGEST_MS = 7000
"""The usual upper limit."""
WORDS_PER_MINUTE = 180
"""BBC Subtitle Guidelines section 4: 160 to 180 words a minute."""
CHARS_PER_SECOND = 20
"""Characters, spaces counted, an adult reader follows (usual practice for streamed programmes)."""
PAUSE_MS = 1000
"""BBC section 4.5: a gap in a pause is at least one second, else there is none."""
SLACK_MS = 1500
"""BBC section 5.2: at most 1.5 s before the voice, at most 1.5 s after it stops."""

_STEP = 100
_OFFSETS = tuple(range(-1200, 801, _STEP))
_NEVER = 1e9


@dataclass(frozen=True, slots=True)
class Spoken:
    """What a caption has to cover: when its words are spoken, and how long it takes to read."""

    start_ms: int
    end_ms: int
    words: int
    chars: int

    @property
    def reading_ms(self) -> int:
        """Least time on screen for its words and characters."""
        by_words = -(-60_000 * self.words // WORDS_PER_MINUTE)
        by_chars = -(-1000 * self.chars // CHARS_PER_SECOND)
        return max(SHORTEST_MS, by_words, by_chars)


def times(spoken: Sequence[Spoken]) -> list[tuple[int, int]]:
    """Start and end of every caption, ms, found by dynamic programming over shifts of the starts.

    A caption begins with its first word unless starting up to a second earlier, or the one before
    staying a little longer, buys needed reading time. Two captions touch or lie a second apart.
    """
    if not spoken:
        return []
    reached: list[dict[int, tuple[float, int, int]]] = []
    first = {o: (_shift(o), 0, 0) for o in _OFFSETS if spoken[0].start_ms + o >= 0}
    reached.append(first or {0: (0.0, 0, 0)})
    for i in range(1, len(spoken)):
        row: dict[int, tuple[float, int, int]] = {}
        for offset in _OFFSETS:
            following = spoken[i].start_ms + offset
            options = []
            for o, (price, _, _) in reached[-1].items():
                extra, end = _end(spoken[i - 1], spoken[i - 1].start_ms + o, following)
                options.append((price + extra, o, end))
            price, o, end = min(options)
            row[offset] = (price + _shift(offset), o, end)
        reached.append(row)
    return _trace(spoken, reached)


def _trace(
    spoken: Sequence[Spoken], reached: list[dict[int, tuple[float, int, int]]]
) -> list[tuple[int, int]]:
    closing = []
    for o, (price, _, _) in reached[-1].items():
        extra, end = _end(spoken[-1], spoken[-1].start_ms + o, spoken[-1].end_ms + 60_000)
        closing.append((price + extra, o, end))
    _, offset, end = min(closing)
    made: list[tuple[int, int]] = []
    for i in range(len(spoken) - 1, -1, -1):
        start = spoken[i].start_ms + offset
        made.append((start, max(end, start + 1)))
        _, offset, end = reached[i][offset]
    return made[::-1]


def _shift(offset: int) -> float:
    return offset / 1000 * 1.0 if offset > 0 else -offset / 1000 * 0.6


def _end(cue: Spoken, start: int, following: int) -> tuple[float, int]:
    """The best end of a caption that starts at `start` when the next starts at `following`."""
    if following - start < 200:
        return _NEVER, following
    touching = following
    settled = max(cue.end_ms + 300, start + cue.reading_ms)
    apart = min(settled, following - PAUSE_MS, cue.end_ms + SLACK_MS, start + LONGEST_MS)
    options = [(_price(cue, start, touching), touching)]
    if apart >= min(cue.end_ms, following - PAUSE_MS) and apart > start:
        options.append((_price(cue, start, apart), apart))
    return min(options)


def _price(cue: Spoken, start: int, end: int) -> float:
    """What an end costs: time missing to read, time off before the voice stops, broken limits."""
    missing = max(0, cue.reading_ms - (end - start))
    price = 8 * missing / 1000 + (0.5 if missing else 0.0)
    price += 3 * max(0, cue.end_ms - end) / 1000
    price += 100 * max(0, end - cue.end_ms - SLACK_MS, cue.end_ms - end - SLACK_MS) / 1000
    price += 100 * max(0, end - start - LONGEST_MS, SHORTEST_MS - (end - start)) / 1000
    return price + 0.05 * max(0, end - cue.end_ms) / 1000
