"""What the clip measures, told in sentences."""

from __future__ import annotations

from studio.deliver.prose import Line, Section, Wording, capital
from studio.model.speech import Outline
from studio.model.technique import Measure, Technique

MOST = 7
SURE = 0.5
"""Least confidence at which a number is told to viewers."""
_ALWAYS = ("rate", "ratio", "lean", "layback", "shin")
_UNITS = {"deg": "°", "s": " s", "spm": " strokes a minute", "cm": " cm"}
_DIGITS = {"deg": 0, "s": 2, "spm": 0, "cm": 0, "ratio": 1}


def section(wording: Wording, technique: Technique | None, outline: Outline) -> list[Section]:
    """The measures the talk touches, then the usual ones; withheld and doubtful ones left out."""
    if technique is None:
        return []
    chosen = _chosen(technique, outline)
    if not chosen:
        return []
    lines = [Line(wording.say("numbers", "intro"))]
    lines += [Line(_told(m), measures=(m.name,)) for m in chosen]
    lines.append(Line(wording.say("numbers", "caution")))
    angles = [m for m in chosen if m.unit == "deg" and m.error]
    if angles:
        worst = max(m.error or 0.0 for m in angles)
        names = tuple(m.name for m in angles)
        lines.append(Line(f"A single angle can be off by about {worst:.0f}°.", measures=names))
    return [Section(wording.say("section", "numbers"), (tuple(lines),))]


def _chosen(technique: Technique, outline: Outline) -> list[Measure]:
    known = {
        m.name: m
        for m in technique.measures
        if m.value is not None and m.confidence >= SURE and m.unit != "share"
    }
    wanted = [p.measure for p in outline.points if p.measure and p.agrees is not False]
    names = dict.fromkeys([*wanted, *_ALWAYS])
    return [known[name] for name in names if name in known][:MOST]


def _told(measure: Measure) -> str:
    value = _number(measure, measure.value or 0.0)
    over = f"over {measure.strokes} strokes" if measure.strokes > 1 else "on the one stroke shown"
    spread = ""
    if measure.spread is not None and measure.strokes > 1:
        spread = f", give or take {_number(measure, measure.spread)}"
    return f"{capital(measure.label)}: {value}{spread}, {over}."


def _number(measure: Measure, value: float) -> str:
    digits = _DIGITS.get(measure.unit, 1)
    made = f"{abs(value) if round(value, digits) == 0 else value:.{digits}f}"
    if measure.unit == "ratio":
        return f"{made} to 1"
    return made + _UNITS.get(measure.unit, f" {measure.unit}")
