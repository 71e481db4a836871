"""Is a measure that differs between two episodes a change, or within what a camera can tell?

After JCGM 100:2008, Guide to the expression of uncertainty in measurement (GUM).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from studio.deliver.numbers import SURE
from studio.model.technique import Measure, Technique

MEDIAN = math.sqrt(math.pi / 2)
"""Standard error of a median over that of a mean, normal readings, many of them (Kendall & Stuart,
The Advanced Theory of Statistics, vol. 1). With two or three it is smaller, so this is cautious."""
LEVEL = 0.9545
"""Probability that a bar covers: a factor of 2 where the spread is well known (GUM 6.2, G.6.6)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One measure in one episode.

    Attributes:
        measure: As measured.
        standard: Standard error of `measure.value`, in its unit; None = not to be compared.
        freedom: Degrees of freedom of `standard`; infinite where strokes do not scatter.
        why_not: Why it cannot be compared; empty = it can.
    """

    measure: Measure
    standard: float | None
    freedom: float
    why_not: str

    @property
    def bar(self) -> float | None:
        """Half the length of its error bar, in the measure's unit."""
        return None if self.standard is None else self.standard * coverage(self.freedom)


@dataclass(frozen=True, slots=True)
class Change:
    """The difference of two readings.

    Attributes:
        difference: Later minus earlier, in the measure's unit.
        error: What it must exceed to be a change.
        verdict: "up", "down" or "no change".
    """

    difference: float
    error: float
    verdict: str


def read(measure: Measure, technique: Technique) -> Reading:
    """A measure with its standard error.

    Two things put the median over strokes off. The camera, the clothes and the marks err alike in
    all strokes of a clip, so `measure.error` is not averaged down (GUM 4.3, type B). The strokes
    scatter, and the median of n of them with standard deviation s is known to 1.25 s / sqrt(n)
    (GUM 4.2, type A). Independent errors add in squares (GUM 5.1.2).
    """
    strokes = [v for v in measure.per_stroke if v is not None]
    why_not = _why_not(measure, technique, len(strokes))
    if why_not or measure.error is None:
        return Reading(measure, None, math.inf, why_not)
    mean = sum(strokes) / len(strokes)
    variance = sum((v - mean) ** 2 for v in strokes) / (len(strokes) - 1)
    scatter = MEDIAN**2 * variance / len(strokes)
    total = measure.error**2 + scatter
    freedom = _freedom([(scatter, len(strokes) - 1)], total)
    return Reading(measure, math.sqrt(total), freedom, "")


def _why_not(measure: Measure, technique: Technique, strokes: int) -> str:
    if measure.value is None:
        return measure.reason or "withheld"
    if measure.error is None:
        return "its error is not known"
    if measure.unit == "deg" and not technique.view.square:
        return "filmed too far off square for angles to be compared"
    if strokes < 2:
        return "seen in one stroke only"
    if measure.confidence < SURE:
        return "too unsure to be compared"
    return ""


def compare(earlier: Reading, later: Reading) -> Change:
    """What became of a measure; both readings must be comparable.

    The standard error of a difference is the root of the sum of the squares of both (GUM 5.1.2,
    equation 10); times the coverage factor it must be exceeded. What both clips have wrong in the
    same way cancels, so this calls too few changes rather than too many.

    Raises:
        ValueError: A reading is not to be compared.
    """
    a, b = earlier, later
    if (
        a.standard is None
        or b.standard is None
        or a.measure.value is None
        or b.measure.value is None
    ):
        raise ValueError("not to be compared")
    total = a.standard**2 + b.standard**2
    freedom = _freedom([(a.standard**2, a.freedom), (b.standard**2, b.freedom)], total)
    error = math.sqrt(total) * coverage(freedom)
    difference = b.measure.value - a.measure.value
    verdict = "no change" if abs(difference) <= error else "up" if difference > 0 else "down"
    return Change(difference, error, verdict)


def _freedom(parts: Sequence[tuple[float, float]], total: float) -> float:
    """Effective degrees of freedom (GUM G.4.1, Welch-Satterthwaite) of (variance, freedom) parts.

    A part of variance 0 or endless freedom takes nothing away.
    """
    spent = sum(v**2 / f for v, f in parts if math.isfinite(f))
    return total**2 / spent if spent > 0 else math.inf


def coverage(freedom: float) -> float:
    """Standard errors that a bar reaches: Student's t at `LEVEL` (GUM G.3.2, table G.2)."""
    from scipy.stats import norm, t

    tail = (1 + LEVEL) / 2
    return float(t.ppf(tail, freedom) if math.isfinite(freedom) else norm.ppf(tail))
