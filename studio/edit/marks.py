"""Which overlays the program shows and when: chosen by what is being said and what stands still."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from studio.edit.screen import SHORTEST_S, Screen, stretches
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
    "body over": ("recovery_order",),
}  # fmt: skip
"""Topic of a talking point -> further overlays that show it."""
SIGNS = {
    "keep": "Keep",
    "change": "Change",
    "coaching_cue": "Coaching cue",
    "drill": "Drill",
}
TOPIC_NAMES = {
    "order": "order of movement", "lean": "forward lean", "back": "the back", "head": "the head",
    "shins": "shins at the catch", "length": "stroke length", "lunge": "late lunge",
    "arm bend": "early arm bend", "hand drop": "hands drop", "rate": "stroke rate",
}  # fmt: skip
"""Topics whose bare word says too little on screen."""
BREATH_S = 1.5
"""A pause between two points shorter than this is a breath, not a change of subject."""
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
        spoken: list[OverlayCue] = []
        if outline is not None and clock is not None:
            still = stretches(screen.still, rate)
            for point in outline.points:
                spoken += _of_point(point, clock, still)
        spoken = _joined(spoken)
        busy = [(c.start_s, c.end_s) for c in spoken if c.kind == "angle_fan"]
        found += spoken
        for hold in holds:
            found += _of_hold(hold, busy)
    return tuple(sorted(found, key=lambda o: (o.start_s, o.end_s, o.kind)))


def _of_hold(hold: Hold, busy: list[tuple[float, float]]) -> list[OverlayCue]:
    """The phase's usual angles, while no talking point asks for others; or two moments."""
    start = float(hold.program_start_s)
    if hold.beside_s is not None or hold.beside_episode:
        both: Params = {"left_s": hold.clip_s, "right_s": hold.beside_s, "phase": hold.phase,
                        "right_episode": hold.beside_episode}  # fmt: skip
        end = start + float(hold.duration_s)
        return [_cue("side_by_side", start, end, "neutral", both)]
    free = [(start, start + float(hold.duration_s))]
    for a, b in busy:
        free = [
            part
            for first, last in free
            for part in ((first, min(last, a)), (max(first, b), last))
            if part[1] - part[0] >= SHORTEST_S
        ]
    return [
        _cue("angle_fan", a, b, "neutral", {"angle": angle, "priority": 1})
        for a, b in free
        for angle in ANGLES_AT[hold.phase]
    ]


def _joined(cues: list[OverlayCue]) -> list[OverlayCue]:
    """Fans of the same angle and accent with a breath between them, made one: they do not blink."""
    made: list[OverlayCue] = []
    for cue in sorted(cues, key=lambda c: c.start_s):
        same = [
            i
            for i, c in enumerate(made)
            if cue.kind == c.kind == "angle_fan"
            and (c.params, c.accent) == (cue.params, cue.accent)
            and cue.start_s - c.end_s < BREATH_S
        ]
        if same:
            before = made[same[-1]]
            made[same[-1]] = replace(before, end_s=max(before.end_s, cue.end_s))
        else:
            made.append(cue)
    return made


def _of_point(
    point: TalkingPoint, clock: Clock, still: list[tuple[float, float]]
) -> list[OverlayCue]:
    """Fans while the clip stands still enough, marks and a short label while it is spoken of."""
    start = float(clock.after(Fraction(point.start_s)))
    end = float(clock.before(Fraction(point.end_s)))
    if end <= start:
        return []
    accent = _accent(point)
    cues = []
    for first, last in still:
        a, b = max(first, start), min(last, end)
        if b - a < SHORTEST_S:
            continue
        cues += [
            _cue("angle_fan", a, b, accent, {"angle": angle, "priority": 2})
            for angle in ANGLES_OF.get(point.topic, ())
        ]
    cues += [_cue(kind, start, end, accent, {}) for kind in MARKS_OF.get(point.topic, ())]
    text = point_label(point)
    cues.append(_cue("callout", start, min(end, start + CALLOUT_S), accent, {"text": text}))
    return cues


def point_label(point: TalkingPoint) -> str:
    """A few words that name a talking point, for example "Change: forward lean".

    Where the clip's own measure contradicts the point, the words may have been misread: the label
    then names the topic and takes no side.
    """
    name = TOPIC_NAMES.get(point.topic, point.topic)
    if point.agrees is False:
        return name[:1].upper() + name[1:]
    return f"{SIGNS[point.kind]}: {name}"


def _accent(point: TalkingPoint) -> str:
    if point.agrees is False:
        return "neutral"
    return "keep" if point.kind == "keep" else "change"


def _cue(
    kind: str,
    start_s: float,
    end_s: float,
    accent: str,
    params: Params,
) -> OverlayCue:
    return OverlayCue(kind, start_s, end_s, accent, params)
