"""What the clip measures, told in sentences."""

from __future__ import annotations

from studio.deliver.prose import Line, Section, Wording, phrases
from studio.model.speech import Outline
from studio.model.technique import Measure, Technique

MOST = 7
SURE = 0.5
"""Least confidence at which a number is told to viewers."""
_ALWAYS = ("rate", "ratio", "lean", "layback", "shin")
_UNITS = {"deg": "°", "s": " seconds", "spm": " strokes a minute", "cm": " cm", "ratio": " times"}
_DIGITS = {"deg": 0, "s": 2, "spm": 0, "cm": 0, "ratio": 1}


def section(wording: Wording, technique: Technique | None, outline: Outline) -> list[Section]:
    """The measures the talk touches, then the usual ones.

    Withheld and doubtful ones are left out, and so are those no larger than their own error,
    where nothing could be claimed.
    """
    chosen = _chosen(technique, outline) if technique is not None else []
    if not chosen:
        return []
    most = max(m.strokes for m in chosen)
    intro = ("intro", {"over": f"over {most} strokes"}) if most > 1 else ("intro_one", {})
    lines = [Line(wording.say("numbers", intro[0], **intro[1]))]
    spreads = [m for m in chosen if m.spread is not None and m.strokes > 1]
    for m in chosen:
        said = told(m, most, again=m not in spreads[:1])
        lines.append(Line(said, measures=(m.name,)))
    lines.append(Line(wording.say("numbers", "caution")))
    angles = [m for m in chosen if m.unit == "deg" and m.error]
    if angles:
        error = f"{max(m.error or 0.0 for m in angles):.1f}".removesuffix(".0") + "°"
        off = wording.say("numbers", "error", error=error)
        lines.append(Line(off, measures=tuple(m.name for m in angles)))
    return [Section(wording.say("section", "numbers"), (tuple(lines),))]


def _chosen(technique: Technique, outline: Outline) -> list[Measure]:
    known = {
        m.name: m
        for m in technique.measures
        if m.value is not None and m.confidence >= SURE and m.unit != "share"
    }
    wanted = [p.measure for p in outline.points if p.measure and p.agrees is not False]
    named = [known[name] for name in dict.fromkeys([*wanted, *_ALWAYS]) if name in known]
    return [m for m in named if not _nothing(m) or f"{m.name}_none" in phrases()["measure"]][:MOST]


def _nothing(measure: Measure) -> bool:
    """Whether it cannot be told from zero."""
    return abs(measure.value or 0.0) <= (measure.error or 0.0)


def told(measure: Measure, strokes: int, *, again: bool = False) -> str:
    """One measure as a sentence; says how many strokes where that is not `strokes`.

    The spread is told in words, and shortly where it is told `again`.
    """
    ways: dict[str, str] = phrases()["measure"]
    value = measure.value or 0.0
    if _nothing(measure) and f"{measure.name}_none" in ways:
        return ways[f"{measure.name}_none"]
    turned = value < 0 and f"{measure.name}_less" in ways
    way = ways.get(f"{measure.name}_less" if turned else measure.name, ways["other"])
    fewer = measure.strokes != strokes
    count = f"over {measure.strokes} stroke{'s' if measure.strokes != 1 else ''}" if fewer else ""
    spread = f" ({count})" if count else ""
    if measure.spread is not None and measure.strokes > 1 and _spread(measure, measure.spread):
        how: str = phrases()["numbers"]["spread_again" if again or fewer else "spread"]
        spread = how.format(spread=f"{_spread(measure, measure.spread)} {count}".rstrip())
    number = _number(measure, -value if turned else value)
    return way.format(value=number, spread=spread, label=measure.label)


def _number(measure: Measure, value: float) -> str:
    return f"{value:.{_DIGITS.get(measure.unit, 1)}f}" + _UNITS.get(measure.unit, measure.unit)


def _spread(measure: Measure, value: float) -> str:
    """With one more digit where it would print as nothing, and the unit only if it is a sign.

    Empty where even that prints as nothing: "0.000" would claim what a camera cannot know.
    """
    digits = _DIGITS.get(measure.unit, 1)
    if value < 0.5 * 10.0**-digits:
        digits += 1
    if value < 0.5 * 10.0**-digits:
        return ""
    return f"{value:.{digits}f}" + ("°" if measure.unit == "deg" else "")
