"""How the captions keep the rules, counted from the captions themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from studio.config import Settings
from studio.model.speech import Cue

MOST_WPM = 180.0
"""BBC Subtitle Guidelines, section 4: 160 to 180 words a minute."""
MOST_LINES = 2


@dataclass(frozen=True, slots=True)
class CaptionReport:
    """Counts over all captions.

    Attributes:
        count: Captions.
        longest_line: Characters of the longest line.
        wide: Captions with a line over the limit.
        tall: Captions of more than two lines.
        fast: Captions read faster than 180 words a minute.
        median_wpm: Words a minute of the middle caption; 0 where there are none.
        overlapping: Captions that begin before the one before has ended.
    """

    count: int
    longest_line: int
    wide: int
    tall: int
    fast: int
    median_wpm: float
    overlapping: int


def caption_report(cues: Sequence[Cue], settings: Settings) -> CaptionReport:
    """Count how captions keep the rules; `settings` holds the limit of characters a line."""
    speeds = [60_000 * len(" ".join(c.lines).split()) / max(1, c.end_ms - c.start_ms) for c in cues]
    widths = [max((len(line) for line in c.lines), default=0) for c in cues]
    return CaptionReport(
        count=len(cues),
        longest_line=max(widths, default=0),
        wide=sum(w > settings.captions.max_chars for w in widths),
        tall=sum(len(c.lines) > MOST_LINES for c in cues),
        fast=sum(s > MOST_WPM for s in speeds),
        median_wpm=float(np.median(speeds)) if speeds else 0.0,
        overlapping=sum(b.start_ms < a.end_ms for a, b in pairwise(cues)),
    )
