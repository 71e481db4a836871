"""Calm motion: pure functions of time, so that any frame can be drawn alone.

All times are seconds on one clock, the caller's choice.
"""

from __future__ import annotations

import math

FADE_IN_S = 0.25
FADE_OUT_S = 0.2
SWEEP_S = 0.6


def ease(share: float) -> float:
    """Slow start, slow end: 0 to 1 as `share` goes 0 to 1, flat at both ends, held outside.

    The quintic 6x^5 - 15x^4 + 10x^3, whose speed and acceleration are 0 at both ends.
    """
    x = min(1.0, max(0.0, share))
    return x * x * x * (x * (6 * x - 15) + 10)


def fade(
    now_s: float,
    start_s: float,
    end_s: float,
    *,
    in_s: float = FADE_IN_S,
    out_s: float = FADE_OUT_S,
) -> float:
    """Opacity of something on screen from `start_s` to `end_s`.

    0 outside, 1 in the middle; where the stay is too short for both fades they share it.

    Args:
        now_s: The moment asked for.
        start_s: When it begins to show.
        end_s: When it is gone.
        in_s: How long it takes to come; 0 shows it at once.
        out_s: How long it takes to go.
    """
    if not start_s <= now_s < end_s:
        return 0.0
    squeeze = min(1.0, (end_s - start_s) / max(in_s + out_s, 1e-9))
    rise = (now_s - start_s) / (in_s * squeeze) if in_s > 0 else 1.0
    fall = (end_s - now_s) / (out_s * squeeze) if out_s > 0 else 1.0
    return min(ease(rise), ease(fall))


def sweep(now_s: float, start_s: float, *, over_s: float = SWEEP_S) -> float:
    """How far a fan that begins at `start_s` is open, 0 to 1."""
    return ease((now_s - start_s) / over_s) if over_s > 0 else float(now_s >= start_s)


def settle(before: float, target: float, step_s: float, *, half_life_s: float = 0.12) -> float:
    """One step from a shown value toward a wanted one: half the way every `half_life_s`.

    For things that may move between frames without being tied to the picture, such as a plate that
    has to make way.
    """
    return target + (before - target) * math.exp2(-max(0.0, step_s) / half_life_s)
