"""The program's frame grid: every cut falls on a program frame, exactly."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from studio.model.media import MediaFile, VideoStream

MAX_RATE = Fraction(60)
"""Programs are made at no more than 60 frames a second: what hosts and phones play everywhere."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Program frames at a constant, exact rate (1/s)."""

    rate: Fraction

    def snap(self, seconds: float | Fraction) -> Fraction:
        """The nearest frame boundary, in seconds; halves go up."""
        return Fraction(math.floor(Fraction(seconds) * self.rate + Fraction(1, 2))) / self.rate

    def count(self, duration_s: Fraction) -> int:
        """How many frames a duration on the grid holds."""
        return round(duration_s * self.rate)


def program_rate(video: VideoStream) -> Fraction:
    """The program's frame rate for a source, 1/s.

    A constant source keeps its exact rate (halved, thirded ... above 60). A variable one has none:
    it gets 30, or 60 where its average shows that it mostly ran faster than 30.
    """
    if video.variable_rate:
        return Fraction(60) if video.frame_rate > 40 else Fraction(30)
    divisor = math.ceil(video.frame_rate / MAX_RATE)
    return video.frame_rate / max(1, divisor)


def picture_end(media: MediaFile) -> Fraction:
    """How long a file plays on the clock of its own first picture, seconds.

    Sound may start before the picture (it is cut) or end after it (the last frame stays).
    """
    video, audio = media.video, media.audio
    if video is None:
        return media.duration_s
    start = min(video.start_s, audio.start_s) if audio is not None else video.start_s
    return media.duration_s - (video.start_s - start)
