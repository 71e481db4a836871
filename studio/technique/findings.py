"""Measures against their ranges: what works, and what to change."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from studio.config import Settings
from studio.errors import ConfigError
from studio.model.technique import Finding, Measure, Technique

MOST = 3
"""Findings of each kind: more than three things at once help nobody."""
KEEP_SURE, CHANGE_SURE = 2.0, 1.0
"""Errors of one reading inside (or outside) the range at which a finding counts as sure."""

ONCE = 3.0
"""What is seen in one stroke only may be a slip, of the athlete or of one reading: it must stand
out by this many errors."""


@dataclass(frozen=True, slots=True)
class Target:
    """A range as it holds for one athlete: either end may be open."""

    low: float | None
    high: float | None
    usual: float | None = None


@cache
def ranges() -> dict[str, dict[str, Any]]:
    """The built-in ranges, by measure."""
    text = resources.files("studio.technique").joinpath("ranges.toml").read_text("utf-8")
    table: dict[str, dict[str, Any]] = tomllib.loads(text)["range"]
    return table


def drive_reference_s(rate_spm: float) -> float:
    """Drive time on the water, real seconds by rate.

    Kleshnev V., "Effect of stroke rate on rowing technique", Rowing Biomechanics Newsletter 2021:
    0.91 s at 36 spm in a single, 15 ms longer for each stroke a minute less.
    """
    return 0.91 + 0.015 * (36 - rate_spm)


def ratio_reference(rate_spm: float) -> float:
    """Recovery over drive at a rate, from the same line."""
    drive = drive_reference_s(rate_spm)
    return (60 / rate_spm - drive) / drive


def find(
    technique: Technique, settings: Settings, rejected: set[str]
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """At most three findings of each kind, and what else was found; surest and most useful first.

    Args:
        technique: With its measures; findings in it are ignored.
        settings: Level and `ranges`.
        rejected: Codes that the coach does not want.

    Raises:
        ConfigError: `ranges` names an unknown measure or end.
    """
    _check(settings)
    by_name = {m.name: m for m in technique.measures}
    found: list[tuple[float, Finding]] = []
    for name, row in ranges().items():
        measure = by_name.get(name)
        if measure is None or measure.value is None or not measure.error:
            continue
        judged = _judge(measure, row, _target(name, row, settings, by_name))
        if judged is None:
            continue
        words, kind, sure, target = judged
        if words["code"] in rejected:
            continue
        finding = _finding(measure, row, words, kind, sure, target, technique, by_name)
        found.append((row["weight"] * finding.confidence, finding))
    changes = {f.code for _, f in found if f.kind == "change"}
    found = [one for one in found if not changes.intersection(_unless(one[1]))]
    found.sort(key=lambda one: -one[0])
    keep = [f for _, f in found if f.kind == "keep"]
    change = [f for _, f in found if f.kind == "change"]
    return (*keep[:MOST], *change[:MOST]), (*change[MOST:], *keep[MOST:])


def _unless(finding: Finding) -> tuple[str, ...]:
    """Codes of changes beside which this keep would say the opposite."""
    if finding.kind != "keep":
        return ()
    return tuple(ranges()[finding.measure]["within"].get("unless", ()))


def _check(settings: Settings) -> None:
    for name, ends in settings.ranges.items():
        if name not in ranges():
            raise ConfigError(
                f"ranges.{name}: there is no such measure with a range.",
                "Known: " + ", ".join(sorted(ranges())) + ".",
            )
        if set(ends) - {"low", "high"}:
            raise ConfigError(f"ranges.{name}: only low and high can be set.")


def _target(
    name: str, row: dict[str, Any], settings: Settings, by_name: dict[str, Measure]
) -> Target | None:
    level = row.get("level", {}).get(settings.athlete.level, {})
    own = settings.ranges.get(name, {})
    low, high = ({**row, **level}.get(end) for end in ("low", "high"))
    usual = None
    if row.get("usual"):
        rate = by_name["rate"].value
        if not rate:
            return None
        usual = ratio_reference(rate)
        low, high = (None if end is None else end * usual for end in (low, high))
    return Target(own.get("low", low), own.get("high", high), usual)


def _judge(
    measure: Measure, row: dict[str, Any], target: Target | None
) -> tuple[dict[str, Any], str, float, Target] | None:
    """Words, kind and sureness (0-1); None when the difference is within the error of a reading."""
    value = measure.value
    if target is None or value is None or not measure.error:
        return None
    error = measure.error * (ONCE if measure.strokes < 2 else 1.0)
    low = -float("inf") if target.low is None else target.low
    high = float("inf") if target.high is None else target.high
    if value > high + error and "above" in row:
        return row["above"], "change", min(1.0, (value - high) / error / (1 + CHANGE_SURE)), target
    if value < low - error and "below" in row:
        return row["below"], "change", min(1.0, (low - value) / error / (1 + CHANGE_SURE)), target
    words = row.get("within")
    inside = min(value - max(low, words.get("within_low", low)), high - value) if words else -1.0
    if words and inside >= 0:
        return words, "keep", min(1.0, 0.4 + 0.6 * inside / error / KEEP_SURE), target
    return None


def _finding(
    measure: Measure,
    row: dict[str, Any],
    words: dict[str, Any],
    kind: str,
    sure: float,
    target: Target,
    technique: Technique,
    by_name: dict[str, Measure],
) -> Finding:
    return Finding(
        code=words["code"],
        kind=kind,
        phase=words["phase"],
        topic=words["topic"],
        text=words["text"].format(**_numbers(measure, target, by_name)),
        coaching_cue=words["coaching_cue"],
        drill=words.get("drill", ""),
        evidence_s=evidence(measure, words["phase"], technique),
        source=row["source"],
        measure=measure.name,
        confidence=round(sure * measure.confidence, 3),
        caution=words.get("caution", ""),
    )


def _numbers(measure: Measure, target: Target, by_name: dict[str, Measure]) -> dict[str, str | int]:
    value = measure.value or 0.0
    lean, shin, rate, arms = (by_name[n].value for n in ("lean", "shin", "rate", "arms_bend"))
    whole = measure.unit in ("deg", "spm")
    return {
        "value": f"{value:.0f}" if whole else f"{value:.1f}",
        "value_abs": f"{abs(value):.0f}",
        "value_percent": f"{100 * value:.0f} %",
        "lean": f"{lean:.0f}" if lean is not None else "?",
        "shin_words": shin_words(shin),
        "arms": f"{100 * arms:.0f} %" if arms is not None else "?",
        "rate": f"{rate:.0f}" if rate is not None else "?",
        "usual": f"{target.usual:.1f}" if target.usual else "?",
        "n": measure.strokes,
    }


def shin_words(shin_deg: float | None) -> str:
    """How the shins stand at the catch, as a coach says it."""
    if shin_deg is None or abs(shin_deg) < 2:
        return "upright"
    side = "short of" if shin_deg < 0 else "past"
    return f"{abs(shin_deg):.0f} degrees {side} upright"


def evidence(measure: Measure, phase: str, technique: Technique) -> tuple[float, ...]:
    """Clip times at which the measured strokes show it best."""
    times = []
    for stroke, value in zip(technique.strokes, measure.per_stroke, strict=True):
        if value is None:
            continue
        spans = {
            "catch": (stroke.catch_s, stroke.catch_s),
            "drive": (stroke.catch_s, stroke.finish_s),
            "finish": (stroke.finish_s, stroke.finish_s),
            "recovery": (stroke.finish_s, stroke.next_catch_s),
        }
        start, end = spans[phase]
        if start is not None and end is not None:
            times.append(round((start + end) / 2, 3))
    return tuple(times)
