"""What the clip shows: the athlete's body over time, the strokes, the measures, the findings."""

from __future__ import annotations

from dataclasses import dataclass

from studio.model.arrays import Array

POINTS: tuple[str, ...] = (
    "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe", "ear", "handle",
)  # fmt: skip
ANGLES: tuple[str, ...] = ("trunk", "shin", "knee", "elbow", "hip")
PHASES: tuple[str, ...] = ("catch", "drive", "finish", "recovery")


@dataclass(frozen=True, slots=True)
class View:
    """How the camera stood.

    Attributes:
        yaw_deg: Estimated turn of the camera off square, about the vertical; None = unknown.
        roll_deg: Estimated tilt of the picture; angles are already levelled by it.
        square: Square enough for the angles to be trusted as they are.
        warnings: Plain sentences for the coach, with how to film better.
    """

    yaw_deg: float | None
    roll_deg: float
    square: bool
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BodyTrack:
    """The near side of the athlete, smoothed and corrected.

    Attributes:
        time_s: (T,) float64, clip time.
        points_px: name in `POINTS` -> (T, 2) float32, x right, y down; NaN = not known.
        angles_deg: name in `ANGLES` -> (T,) float32; sign conventions of the contract in
            docs/data-model.md; NaN = not known.
        score: name in `POINTS` -> (T,) float32, 0-1.
        face_px: (T, 3) float32: centre x, y and radius of a circle that holds the face; NaN = not
            seen.
        facing: "left" or "right": the way the athlete faces, toward the flywheel.
        source: Backend and weights.
    """

    time_s: Array
    points_px: dict[str, Array]
    angles_deg: dict[str, Array]
    score: dict[str, Array]
    face_px: Array
    facing: str
    source: str


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke, catch to next catch; every time is clip time in seconds.

    Attributes:
        index: From 0, in order.
        catch_s: Handle turns at its nearest to the flywheel; None where the clip starts later.
        finish_s: Handle turns at its farthest; None where the clip ends before.
        next_catch_s: None for the last, incomplete stroke.
        events_s: name -> clip time: "legs_down", "arms_bend", "arms_connected", "hands_away",
            "body_over", "body_set", "knees_bend", "handle_past_knees", "late_lunge";
            absent = not seen.
        complete: All three turning points lie in the clip.
        confidence: 0-1.
    """

    index: int
    catch_s: float | None
    finish_s: float | None
    next_catch_s: float | None
    events_s: dict[str, float]
    complete: bool
    confidence: float


@dataclass(frozen=True, slots=True)
class Measure:
    """One number from the clip.

    Attributes:
        name: Registry key, e.g. "layback".
        label: In a coach's words.
        value: Median over strokes; None = withheld, and `reason` says why.
        unit: "deg", "s", "spm", "cm", "share" or "ratio".
        spread: Half the 16-84 percentile range over strokes, in `unit`; None below two strokes.
        strokes: How many strokes it rests on.
        confidence: 0-1.
        error: Expected error of one reading in `unit`, with its source in docs; None = unknown.
        per_stroke: One value a stroke in `Clip.strokes` order, None where unknown.
        reason: Why `value` is None.
    """

    name: str
    label: str
    value: float | None
    unit: str
    spread: float | None
    strokes: int
    confidence: float
    error: float | None = None
    per_stroke: tuple[float | None, ...] = ()
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """A statement about technique, described and never diagnosed.

    Attributes:
        code: Stable key.
        kind: "keep" or "change".
        phase: One of `PHASES`, or None for the whole stroke.
        topic: A topic word of the trade, as in `studio.speech`.
        text: One sentence.
        coaching_cue: What a coach would say to the athlete.
        drill: One exercise; may be empty.
        evidence_s: Clip times that show it.
        source: Who says so, or "common practice".
        measure: Name of the measure behind it.
        confidence: 0-1.
        caution: Where backs, ribs or wrists are concerned; else empty.
    """

    code: str
    kind: str
    phase: str | None
    topic: str
    text: str
    coaching_cue: str
    drill: str
    evidence_s: tuple[float, ...]
    source: str
    measure: str
    confidence: float
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Technique:
    """Everything read off the clip.

    Attributes:
        time_factor: Clip seconds per real second (4.0 = four times slowed); None = slow motion is
            suspected and the coach has not confirmed: seconds and spm are withheld.
        view: How the camera stood.
        body: The athlete over time.
        strokes: In order.
        measures: In the order of the registry.
        findings: Most useful first; at most three of each kind.
        notices: Plain sentences for the coach.
        further: What else was found, past the three of each kind; most useful first.
    """

    time_factor: float | None
    view: View
    body: BodyTrack
    strokes: tuple[Stroke, ...]
    measures: tuple[Measure, ...] = ()
    findings: tuple[Finding, ...] = ()
    notices: tuple[str, ...] = ()
    further: tuple[Finding, ...] = ()
