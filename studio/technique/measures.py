"""Measures: one number a stroke, then the median over strokes with spread and confidence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from studio.model.arrays import Array
from studio.model.pose import PoseTrack
from studio.model.technique import BodyTrack, Measure, Stroke, View
from studio.technique.events import late_gain, rows_between
from studio.technique.joints import flexion
from studio.technique.view import LIMIT_DEG, SQUARE_DEG

Reading = Callable[[Stroke, BodyTrack, "Context"], float | None]
ONSET_ERROR = 0.06
"""Expected error of the moment at which a joint starts to move, share of the phase."""
POSE_ERROR_DEG = 2.5
"""Expected error of one angle from one side-on camera once moved to the joint centres:
measured in docs/measuring.md."""
OBLIQUE_ERROR = 2.4
"""How much further off readings are where the camera does not stand square: knee angles of this
backend spread by 15.1 degrees over views of 45 to 90, by 6.4 from the side (Cosoli et al. 2026).
An angle's error grows on the way there, for a yaw told as 10 to 13 degrees may be 20
(docs/measuring.md); heights and shares of a phase do not shrink with the yaw."""
PART_SHARE = 0.7
"""A stroke in which the handle travels less than this share of the longest is a part of one: arms
and body alone make half to 0.6. The length of whole ones does not change with the rate (Cerne et
al. 2013, Hum Mov Sci 32:691)."""
TIMED = ("s", "spm", "ratio")
"""Units of what is read off the clock alone."""
TRUNK_OF_HEIGHT = 0.288
"""Hip to shoulder over standing height: Drillis & Contini 1966, as tabulated in Winter,
Biomechanics and Motor Control of Human Movement, fig. 4.1 (from memory)."""


@dataclass(frozen=True, slots=True)
class Context:
    """What readings need besides the stroke.

    Attributes:
        time_factor: Clip seconds per real second; None = seconds are withheld.
        height_cm: Of the athlete; 0 = unknown.
        trunk_px: Hip to shoulder.
        pose: The raw pose, for the back's outline.
        cycle_s: Clip seconds of a whole stroke where the clip shows none, told from how its two
            ends meet; None = not needed or not to be told.
    """

    time_factor: float | None
    height_cm: float
    trunk_px: float
    pose: PoseTrack
    cycle_s: float | None = None


@dataclass(frozen=True, slots=True)
class Kind:
    """One row of the registry.

    Attributes:
        name: Key.
        label: A coach's words.
        unit: "deg", "s", "spm", ...
        read: How to read it off a stroke.
        error: Expected, in its unit, with the heavy weights; None = not known.
        full_error: The same with any other weights, where those are further off.
        square: Told only where the camera stands square.
    """

    name: str
    label: str
    unit: str
    read: Reading
    error: float | None
    full_error: float | None = None
    square: bool = False


def at(values: Array, body: BodyTrack, time_s: float | None) -> float | None:
    """A (T,) curve at a moment of clip time, between frames by a straight line."""
    if time_s is None:
        return None
    value = float(np.interp(time_s, body.time_s, values))
    return value if np.isfinite(value) else None


def _angle(name: str, moment: str, sign: int = 1) -> Reading:
    def read(stroke: Stroke, body: BodyTrack, _: Context) -> float | None:
        value = at(body.angles_deg[name], body, getattr(stroke, moment))
        return None if value is None else sign * value

    return read


def _handle_height(stroke: Stroke, body: BodyTrack, _: Context) -> float | None:
    """Share of the way from hip (0) to shoulder (1) at which the handle is at the catch."""
    heights = [at(body.points_px[n][:, 1], body, stroke.catch_s)
               for n in ("handle", "hip", "shoulder")]  # fmt: skip
    if None in heights:
        return None
    handle, hip, shoulder = (float(h) for h in heights if h is not None)
    return (hip - handle) / (hip - shoulder) if hip - shoulder > 1 else None


def _hand_drop(stroke: Stroke, body: BodyTrack, context: Context) -> float | None:
    """How far the handle sinks in the first quarter of the drive, share of the trunk's length."""
    if stroke.catch_s is None or stroke.finish_s is None:
        return None
    quarter = stroke.catch_s + (stroke.finish_s - stroke.catch_s) / 4
    rows = rows_between(body, stroke.catch_s, quarter)
    start = at(body.points_px["handle"][:, 1], body, stroke.catch_s)
    if start is None or len(rows) < 2:
        return None
    sunk = np.nanmax(body.points_px["handle"][rows, 1]) - start
    return float(max(sunk, 0.0) / context.trunk_px) if np.isfinite(sunk) else None


def _catch_length(stroke: Stroke, body: BodyTrack, context: Context) -> float | None:
    """Lean plus shin at the catch: how far the body as a whole reaches."""
    lean = _angle("trunk", "catch_s")(stroke, body, context)
    shin = _angle("shin", "catch_s")(stroke, body, context)
    return None if lean is None or shin is None else lean + shin


def _cm(share: Reading) -> Reading:
    """A share of the trunk's length in centimetres, where the athlete's height is known."""

    def read(stroke: Stroke, body: BodyTrack, context: Context) -> float | None:
        value = share(stroke, body, context)
        scale = TRUNK_OF_HEIGHT * context.height_cm
        return None if value is None or not scale else value * scale

    return read


def _heel_lift(stroke: Stroke, body: BodyTrack, context: Context) -> float | None:
    """How far the heel is above its lowest of the drive at the catch, share of the trunk."""
    lifted = at(body.points_px["heel"][:, 1], body, stroke.catch_s)
    rows = rows_between(body, stroke.catch_s, stroke.finish_s)
    if lifted is None or len(rows) < 3:
        return None
    down = np.nanmax(body.points_px["heel"][rows, 1])
    return float(max(down - lifted, 0) / context.trunk_px) if np.isfinite(down) else None


def _share(event: str, phase: str) -> Reading:
    def read(stroke: Stroke, _: BodyTrack, __: Context) -> float | None:
        start, end = (
            (stroke.catch_s, stroke.finish_s)
            if phase == "drive"
            else (stroke.finish_s, stroke.next_catch_s)
        )
        when = stroke.events_s.get(event)
        if when is None or start is None or end is None:
            return None
        return (when - start) / (end - start)

    return read


def _knees_wait(stroke: Stroke, _: BodyTrack, context: Context) -> float | None:
    """Real seconds from the handle passing the knees to the knees bending; + = the right order."""
    events = stroke.events_s
    if context.time_factor is None or not {"knees_bend", "handle_past_knees"} <= set(events):
        return None
    return (events["knees_bend"] - events["handle_past_knees"]) / context.time_factor


def _lunge(stroke: Stroke, body: BodyTrack, _: Context) -> float | None:
    """Forward lean gained in the last fifth of the recovery."""
    found = late_gain(body, stroke)
    return found[1] if found else None


def _arms_wait(stroke: Stroke, body: BodyTrack, context: Context) -> float | None:
    """Share of the drive from legs nearly down to the arms bending; + = the taught order."""
    arms = _share("arms_bend", "drive")(stroke, body, context)
    legs = _share("legs_down", "drive")(stroke, body, context)
    return None if arms is None or legs is None else arms - legs


def _elbow_height(stroke: Stroke, body: BodyTrack, context: Context) -> float | None:
    """How far the elbow is above the handle at the finish, share of the trunk's length."""
    elbow, handle = (
        at(body.points_px[n][:, 1], body, stroke.finish_s) for n in ("elbow", "handle")
    )
    return None if elbow is None or handle is None else (handle - elbow) / context.trunk_px


def _back_curve(stroke: Stroke, _: BodyTrack, context: Context) -> float | None:
    """How far the back's outline bows out at the catch over its chord, share of the chord."""
    if stroke.catch_s is None:
        return None
    row = int(np.argmin(np.abs(context.pose.time_s - stroke.catch_s)))
    rows = slice(max(0, row - 2), row + 3)
    bows = [bow(outline) for outline in context.pose.back_px[rows].astype(float)]
    good = [b for b in bows if b is not None]
    return float(np.median(good)) if good else None


def bow(outline: Array) -> float | None:
    """Bow of a (B, 2) outline over the chord between its ends, as a share of the chord's length.

    A parabola through all stations stands for the outline, so that clothes do not matter point by
    point; + = rounded, away from the belly, 0 = flat. None where less than two thirds are known.
    """
    known = outline[np.isfinite(outline).all(axis=1)]
    if len(known) < 2 * len(outline) / 3:
        return None
    chord = known[-1] - known[0]
    length = float(np.hypot(*chord))
    if length < 1:
        return None
    along = (known - known[0]) @ chord / length**2
    across = np.abs(chord[0] * (known - known[0])[:, 1] - chord[1] * (known - known[0])[:, 0])
    side = np.sign(chord[0] * (known - known[0])[:, 1] - chord[1] * (known - known[0])[:, 0])
    signed = across * side / length**2
    quadratic = np.polyfit(along, signed, 2)[0]
    return float(abs(quadratic) / 4)


def _body_when_knees_bend(stroke: Stroke, body: BodyTrack, _: Context) -> float | None:
    return at(body.angles_deg["trunk"], body, stroke.events_s.get("knees_bend"))


def _wrist(stroke: Stroke, body: BodyTrack, _: Context) -> float | None:
    """Bend between forearm and hand at the finish; 0 = flat, + = palm-ward."""
    p = {n: [at(body.points_px[n][:, k], body, stroke.finish_s) for k in (0, 1)]
         for n in ("elbow", "wrist", "handle")}  # fmt: skip
    if any(v is None for pair in p.values() for v in pair):
        return None
    elbow, wrist, knuckle = (np.array(p[n], float) for n in ("elbow", "wrist", "handle"))
    toward = 1 if body.facing == "right" else -1
    return float(flexion(elbow[None], wrist[None], knuckle[None], toward)[0])


def _seconds(start: str, end: str) -> Reading:
    def read(stroke: Stroke, _: BodyTrack, context: Context) -> float | None:
        a, b = getattr(stroke, start), getattr(stroke, end)
        if None in (a, b) or context.time_factor is None:
            return None
        return float((b - a) / context.time_factor)

    return read


def _rate(stroke: Stroke, body: BodyTrack, context: Context) -> float | None:
    cycle = _seconds("catch_s", "next_catch_s")(stroke, body, context)
    if cycle is None and context.cycle_s and context.time_factor and stroke.catch_s is not None:
        cycle = context.cycle_s / context.time_factor
    return 60 / cycle if cycle else None


def _ratio(stroke: Stroke, _: BodyTrack, __: Context) -> float | None:
    if stroke.catch_s is None or stroke.finish_s is None or stroke.next_catch_s is None:
        return None
    return (stroke.next_catch_s - stroke.finish_s) / (stroke.finish_s - stroke.catch_s)


REGISTRY: tuple[Kind, ...] = (
    Kind("rate", "stroke rate", "spm", _rate, 0.5),
    Kind("drive_time", "drive time", "s", _seconds("catch_s", "finish_s"), 0.03),
    # a slow recovery turns more gently: 2 px of noise move it by up to 0.05 s (1,001 drawn rowers)
    Kind("recovery_time", "recovery time", "s", _seconds("finish_s", "next_catch_s"), 0.05),
    Kind("ratio", "recovery to drive", "ratio", _ratio, 0.1),
    Kind("lean", "forward lean at the catch", "deg", _angle("trunk", "catch_s"), POSE_ERROR_DEG),
    Kind("layback", "layback at the finish", "deg", _angle("trunk", "finish_s", -1),
         POSE_ERROR_DEG),
    Kind("shin", "shin at the catch", "deg", _angle("shin", "catch_s"), POSE_ERROR_DEG,
         square=True),
    Kind("catch_length", "reach at the catch (lean plus shin)", "deg", _catch_length, 4.0,
         square=True),
    # the full weights are off by 4.5 degrees on average there (docs/measuring.md)
    Kind("knee", "knee at the catch", "deg", _angle("knee", "catch_s"), POSE_ERROR_DEG,
         full_error=5.0),
    Kind("hip", "hip at the catch", "deg", _angle("hip", "catch_s"), POSE_ERROR_DEG),
    Kind("heel_lift", "heel lift at the catch", "share", _heel_lift, 0.03, full_error=0.04),
    Kind("heel_lift_cm", "heel lift at the catch", "cm", _cm(_heel_lift), 1.5, full_error=2.0),
    Kind("handle_height", "handle height at the catch", "share", _handle_height, 0.08),
    Kind("hand_drop", "hand drop early in the drive", "share", _hand_drop, 0.02),
    Kind("hand_drop_cm", "hand drop early in the drive", "cm", _cm(_hand_drop), 1.0),
    Kind("arms_bend", "arms start to bend", "share", _share("arms_bend", "drive"), ONSET_ERROR),
    Kind("legs_down", "legs down", "share", _share("legs_down", "drive"), ONSET_ERROR),
    # the difference of two such readings
    Kind("arms_wait", "arms bend after the legs are nearly down", "share", _arms_wait,
         round(ONSET_ERROR * 2**0.5, 3)),
    Kind("elbow", "elbow at the finish", "deg", _angle("elbow", "finish_s"), 5.0, square=True),
    Kind("elbow_height", "elbow above the handle at the finish", "share", _elbow_height, 0.05),
    Kind("wrist", "wrist bend at the finish", "deg", _wrist, 6.0),
    Kind("back_curve", "back's bow at the catch", "share", _back_curve, 0.03),
    Kind("hands_away", "hands away", "share", _share("hands_away", "recovery"), 0.06),
    Kind("body_over", "body passes vertical", "share", _share("body_over", "recovery"), 0.06),
    Kind("knees_bend", "knees start to bend", "share", _share("knees_bend", "recovery"), 0.06),
    Kind("knees_wait", "knees bend after the handle has passed them", "s", _knees_wait, 0.05,
         full_error=0.09),
    Kind("body_set", "lean when the knees bend", "deg", _body_when_knees_bend, 4.0),
    Kind("lunge", "lean gained late in the recovery", "deg", _lunge, 3.0),
)  # fmt: skip
"""Every measure, in the order in which a coach reads them."""


def take_measures(
    strokes: tuple[Stroke, ...], body: BodyTrack, view: View, context: Context
) -> tuple[Measure, ...]:
    """Read every kind on every stroke and sum up over those of the usual length."""
    counted = usual_length(strokes, body)
    return tuple(_sum_up(kind, strokes, counted, body, view, context) for kind in REGISTRY)


def usual_length(strokes: tuple[Stroke, ...], body: BodyTrack) -> tuple[bool, ...]:
    """Which strokes count: not the half ones with which many begin, or a pause drill."""
    along = body.points_px["handle"][:, 0]
    ends = [(at(along, body, s.catch_s), at(along, body, s.finish_s)) for s in strokes]
    travel = [abs(a - b) if a is not None and b is not None else None for a, b in ends]
    longest = max((t for t in travel if t is not None), default=0.0)
    return tuple(t is None or t >= PART_SHARE * longest for t in travel)


def _sum_up(
    kind: Kind,
    strokes: tuple[Stroke, ...],
    counted: tuple[bool, ...],
    body: BodyTrack,
    view: View,
    context: Context,
) -> Measure:
    timed = kind.unit in TIMED
    per_stroke = tuple(
        kind.read(stroke, body, context) if whole or timed else None
        for stroke, whole in zip(strokes, counted, strict=True)
    )
    good = [v for v, whole in zip(per_stroke, counted, strict=True)
            if whole and v is not None and np.isfinite(v)]  # fmt: skip
    if kind.square and not view.square:
        per_stroke, good = (None,) * len(strokes), []
    reason = "" if good else _why_not(kind, view, context)
    spread = float(np.diff(np.percentile(good, [16, 84]))[0] / 2) if len(good) > 1 else None
    seen = [s.confidence for s, v in zip(strokes, per_stroke, strict=True) if v is not None]
    confidence = float(np.mean(seen)) * (1 - 0.5 ** len(good)) if good else 0.0
    return Measure(
        name=kind.name,
        label=kind.label,
        value=round(float(np.median(good)), 4) if good else None,
        unit=kind.unit,
        spread=round(spread, 4) if spread is not None else None,
        strokes=len(good),
        confidence=round(confidence * (1.0 if view.square else 0.6), 3),
        error=_error(kind, view, context),
        per_stroke=tuple(None if v is None else round(float(v), 4) for v in per_stroke),
        reason=reason,
    )


def _error(kind: Kind, view: View, context: Context) -> float | None:
    heavy = context.pose.source.endswith("heavy")
    error = kind.error if heavy else kind.full_error or kind.error
    if error is None or kind.unit in TIMED:
        return error
    askew = 0.0 if view.square else 1.0
    if view.square and kind.unit == "deg":
        askew = abs(view.yaw_deg or 0.0) / SQUARE_DEG
    return round(error * (1 + askew * (OBLIQUE_ERROR - 1)), 3)


def _why_not(kind: Kind, view: View, context: Context) -> str:
    if kind.unit == "deg" and abs(view.yaw_deg or 0.0) > LIMIT_DEG:
        return "the camera stands too far off square for angles: film straight from the side"
    if kind.square and not view.square:
        # shins are off by up to 22 degrees there, raised elbows by up to 34: docs/measuring.md
        return "this one shows only from square on: film straight from the side"
    if context.time_factor is None and kind.unit in ("s", "spm"):
        return "slow motion is suspected: give the capture rate and seconds can be told"
    if kind.unit == "cm" and not context.height_cm:
        return "needs the athlete's height"
    return "not seen in any whole stroke"
