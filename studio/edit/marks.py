"""Which overlays the program shows and when: chosen by what is being said and what stands still."""

from __future__ import annotations

from fractions import Fraction

from studio.edit.screen import Screen, stretches
from studio.edit.shots import Clock
from studio.model.plan import Hold, OverlayCue, Shot
from studio.model.speech import Outline, TalkingPoint
from studio.model.technique import Technique

Params = dict[str, str | float | int | bool | None]
ANGLES_AT: dict[str, tuple[str, ...]] = {"catch": ("trunk", "shin"), "finish": ("trunk", "elbow")}
"""What a hold shows when nothing more pressing is being said."""
ANGLES_OF: dict[str, tuple[str, ...]] = {
    "layback": ("trunk",), "lean": ("trunk",), "back": ("trunk",), "posture": ("trunk",),
    "lunge": ("trunk",), "body over": ("trunk",), "shins": ("shin",), "heels": ("shin",),
    "knees": ("knee",), "length": ("trunk", "shin"), "connection": ("trunk", "knee"),
    "arm bend": ("elbow",), "elbows": ("elbow",), "wrists": ("elbow",),
}  # fmt: skip
"""Topic of a talking point -> angles that show it."""
MARKS_OF: dict[str, tuple[str, ...]] = {
    "hand drop": ("handle_trail",), "handle height": ("shoulder_handle", "handle_trail"),
    "hands away": ("handle_trail", "recovery_order"), "order": ("recovery_order",),
    "body over": ("recovery_order",), "shins": ("knee_plumb",),
}  # fmt: skip
"""Topic of a talking point -> further overlays that show it."""
SIGNS = {"keep": "Keep", "change": "Change", "coaching_cue": "Try", "drill": "Drill"}
CALLOUT_S = 5.0
"""Three words are read in a second or two; longer and the label becomes furniture."""


def overlay_cues(
    screen: Screen,
    shots: tuple[Shot, ...],
    holds: tuple[Hold, ...],
    rate: Fraction,
    *,
    outline: Outline | None,
    clock: Clock | None,
    technique: Technique | None,
    draft: bool,
    words: dict[str, Params],
) -> tuple[OverlayCue, ...]:
    """All overlays of the program, by their start; `words` are the texts of the cards."""
    end = len(screen.clip_s) / float(rate)
    found: list[OverlayCue] = []
    for shot in shots:
        if shot.kind == "card":
            start = float(shot.program_start_s)
            end_s = start + float(shot.duration_s)
            found.append(_cue(f"{shot.card}_card", start, end_s, "neutral", words[shot.card]))
    if draft:
        found.append(_cue("draft_mark", 0.0, end, "neutral", {}))
    if technique is not None:
        found += [_cue(kind, 0.0, end, "neutral", {}) for kind in ("limb_lines", "phase_strip")]
        still = stretches(screen.still, rate)
        for hold in holds:
            found += _of_hold(hold)
        if outline is not None and clock is not None:
            for point in outline.points:
                found += _of_point(point, clock, still)
    return tuple(sorted(found, key=lambda o: (o.start_s, o.end_s, o.kind)))


def _of_hold(hold: Hold) -> list[OverlayCue]:
    start = float(hold.program_start_s)
    end = start + float(hold.duration_s)
    return [
        _cue("angle_fan", start, end, "neutral", {"angle": angle, "priority": 1})
        for angle in ANGLES_AT[hold.phase]
    ]


def _of_point(
    point: TalkingPoint, clock: Clock, still: list[tuple[float, float]]
) -> list[OverlayCue]:
    """Fans while the clip stands still enough, marks and a short label while it is spoken of."""
    start = float(clock.after(Fraction(point.start_s)))
    end = float(clock.before(Fraction(point.end_s)))
    if end <= start:
        return []
    accent = "keep" if point.kind == "keep" else "change"
    cues = []
    for a, b in still:
        a, b = max(a, start), min(b, end)
        if b - a < CALLOUT_S / 5:
            continue
        cues += [
            _cue("angle_fan", a, b, accent, {"angle": angle, "priority": 2})
            for angle in ANGLES_OF.get(point.topic, ())
        ]
    cues += [_cue(kind, start, end, accent, {}) for kind in MARKS_OF.get(point.topic, ())]
    text = f"{SIGNS[point.kind]}: {point.topic}"
    cues.append(_cue("callout", start, min(end, start + CALLOUT_S), accent, {"text": text}))
    return cues


def _cue(
    kind: str,
    start_s: float,
    end_s: float,
    accent: str,
    params: Params,
) -> OverlayCue:
    return OverlayCue(kind, start_s, end_s, accent, params)
