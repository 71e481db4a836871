"""Plain words for the angles on plates.

The sign rules: `trunk_deg` is + toward the footplate, `shin_deg` is 0 when vertical and + when the
knee has gone past the ankle toward the flywheel; `knee_deg`, `elbow_deg` and `hip_deg` are 180
when straight.
"""

from __future__ import annotations

import math

UPRIGHT_DEG = 0.5
"""Below this an angle rounds to 0 and is called by its name alone."""


def angle_text(name: str, value_deg: float) -> str:
    """What a plate says about an angle, for example "lean 27°".

    Args:
        name: "trunk_deg", "shin_deg", "knee_deg", "elbow_deg" or "hip_deg".
        value_deg: The angle by the sign rules above.

    Returns:
        The words, or "" when the value is NaN.

    Raises:
        ValueError: Unknown name.
    """
    if name not in _WORDS:
        raise ValueError(f"no words for angle {name!r}; known are {', '.join(_WORDS)}")
    if math.isnan(value_deg):
        return ""
    minus, zero, plus = _WORDS[name]
    if abs(value_deg) < UPRIGHT_DEG:
        return zero
    return (plus if value_deg > 0 else minus).format(degrees(abs(value_deg)))


def degrees(value_deg: float) -> str:
    """A whole number of degrees, halves away from zero: 26.5 is "27°"."""
    whole = math.floor(abs(value_deg) + 0.5)
    return f"{'-' if value_deg < 0 and whole else ''}{whole}°"


_WORDS = {
    "trunk_deg": ("layback {}", "upright", "lean {}"),
    "shin_deg": ("shin {} short", "shin vertical", "shin {} past"),
    "knee_deg": ("knee {}", "knee 0°", "knee {}"),
    "elbow_deg": ("elbow {}", "elbow 0°", "elbow {}"),
    "hip_deg": ("hip {}", "hip 0°", "hip {}"),
}
