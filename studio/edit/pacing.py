"""How the program is paced beyond the holds: cards, and the clip's own analysis episode."""

from __future__ import annotations

from fractions import Fraction

from studio.config import Settings
from studio.edit.marks import Params
from studio.edit.shots import ONE, ZERO, Cutter
from studio.model.plan import Hold
from studio.model.playhead import Playhead
from studio.model.technique import Stroke, Technique

CARD_S = Fraction(5, 2)
"""Long enough to read a title and a series name (9 words at 3 to 4 words a second), no longer."""
END_CARD_S = Fraction(5)
"""Three short coaching cues read at leisure."""
SLOW = Fraction(1, 4)
"""Slow motion of the analysed stroke: a 2 s stroke in 8 s, time for the eye to follow the hands."""
LEAD_S = Fraction(3, 10)
"""Clip time shown before the catch, so that the hold does not come out of nowhere."""


def wants_title(settings: Settings, playhead: Playhead | None, *, recorded: bool) -> str:
    """Why the program gets a title card; empty = it gets none."""
    if not (settings.episode.title or settings.episode.series):
        return ""
    if not recorded:
        return "the clip has no opening of its own"
    if playhead is not None and len(playhead.state) and playhead.state[0] != 0:
        return "the recording opens straight on the clip"
    return ""


def card_words(settings: Settings, technique: Technique | None) -> dict[str, Params]:
    """What the cards say: the title card names the episode, the end card what to take away."""
    about = settings.episode
    lines = take_away(technique)
    return {
        "title": {
            "title": about.title or about.series,
            "subtitle": about.club,
            "series": about.series if about.title else "",
        },
        "end": {"title": "To take away", "lines": "\n".join(lines), "series": about.series},
    }


def take_away(technique: Technique | None) -> list[str]:
    """At most three coaching cues, what to keep first."""
    found = technique.findings if technique else ()
    ordered = sorted(found, key=lambda f: f.kind != "keep")
    return [f.coaching_cue for f in ordered if f.coaching_cue][:3]


def chosen_stroke(technique: Technique | None) -> Stroke | None:
    """The stroke to analyse: complete, most certain, and early among equals."""
    whole = [s for s in technique.strokes if s.complete] if technique else []
    return max(whole, key=lambda s: (round(s.confidence, 1), -s.index), default=None)


def cut_clip(
    cutter: Cutter, end_s: Fraction, technique: Technique | None, seconds: float
) -> list[Hold]:
    """The clip's own episode: once as filmed, then one stroke slowly with its two holds.

    Args:
        cutter: Where the shots go.
        end_s: Length of the clip, on the grid.
        technique: For the stroke; without one the clip is just played.
        seconds: Length of a hold.
    """
    cutter.add("clip", end_s, ZERO, ONE, "none")
    stroke = chosen_stroke(technique)
    if stroke is None or stroke.catch_s is None or stroke.finish_s is None:
        return []
    snap = cutter.grid.snap
    catch, finish = snap(stroke.catch_s), snap(stroke.finish_s)
    last = min(end_s, snap(stroke.next_catch_s or stroke.finish_s))
    at = max(ZERO, catch - LEAD_S)
    holds = []
    for phase, moment in (("catch", catch), ("finish", finish)):
        cutter.add("clip", (moment - at) / SLOW, at, SLOW, "none")
        shot = cutter.add("hold", snap(seconds), moment, ZERO, "none")
        if shot is not None:
            why = "the analysed stroke stops here"
            holds.append(
                Hold(phase, stroke.index, float(moment), shot.program_start_s, shot.duration_s,
                     True, why)
            )  # fmt: skip
        at = moment
    cutter.add("clip", (last - at) / SLOW, at, SLOW, "none")
    if take_away(technique):
        cutter.add("card", cutter.grid.snap(END_CARD_S), ZERO, ZERO, "none", "end")
    return holds
