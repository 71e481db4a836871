"""Times as they are written: whole milliseconds and clock faces.

Three clocks exist and never mix: clip time, recording time, program time. Anything cut or
seeked is a `Fraction` of seconds; anything measured is a float; subtitles are whole milliseconds.
"""

from __future__ import annotations

import math
from fractions import Fraction


def s_to_ms(seconds: float | Fraction) -> int:
    """Whole milliseconds, halves rounded up, so that equal times always print equal."""
    return math.floor(Fraction(seconds) * 1000 + Fraction(1, 2))


def clock_face(seconds: float | Fraction, *, hours: bool = False) -> str:
    """`m:ss` (or `h:mm:ss` from one hour on, or always with `hours`), floored to whole seconds."""
    whole = math.floor(seconds)
    h, m, s = whole // 3600, whole // 60 % 60, whole % 60
    return f"{h}:{m:02}:{s:02}" if h or hours else f"{m}:{s:02}"
