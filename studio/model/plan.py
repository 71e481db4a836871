"""The edit plan: what the program shows and plays, moment by moment."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from studio.model.speech import Chapter, Cue


@dataclass(frozen=True, slots=True)
class Shot:
    """A stretch of program, half-open, exact.

    Attributes:
        kind: "recording" (play it), "hold" (freeze the clip moment, sound per `sound`), "clip"
            (play the clip itself), "card" (title or end card).
        program_start_s: Where it begins, program time.
        duration_s: How long it lasts on the program.
        source_start_s: Recording time ("recording", "hold"), or clip time ("clip"); 0 for cards.
        speed: Source seconds per program second; 0 for an inserted hold.
        sound: "source" (the recording's own at the same moment), "room" (room tone), "none".
        card: "title" or "end" for cards, else empty.
    """

    kind: str
    program_start_s: Fraction
    duration_s: Fraction
    source_start_s: Fraction
    speed: Fraction
    sound: str
    card: str = ""


@dataclass(frozen=True, slots=True)
class Hold:
    """A freeze-frame at a catch or finish.

    Attributes:
        phase: "catch" or "finish".
        stroke: Index of the stroke.
        clip_s: The moment frozen, clip time.
        program_start_s: Program time.
        duration_s: On the program.
        inserted: True adds time to the program; False covers the coach's own pause.
        why: One sentence for the coach.
        beside_s: Clip time of a second moment shown beside the first; None = only one is shown.
        beside_episode: Folder of another episode whose athlete is shown beside; empty = none.
    """

    phase: str
    stroke: int
    clip_s: float
    program_start_s: Fraction
    duration_s: Fraction
    inserted: bool
    why: str
    beside_s: float | None = None
    beside_episode: str = ""


@dataclass(frozen=True, slots=True)
class OverlayCue:
    """One overlay over a stretch of program time.

    Attributes:
        kind: A name in the registry of the `overlays` package.
        start_s: Program time.
        end_s: Program time.
        accent: "keep", "change" or "neutral".
        params: Plain values for the overlay (angle name, text, stroke index ...).
    """

    kind: str
    start_s: float
    end_s: float
    accent: str
    params: dict[str, str | float | int | bool | None]


@dataclass(frozen=True, slots=True)
class EditPlan:
    """The whole program.

    Attributes:
        frame_rate: Constant, exact, frames per second of program.
        width_px: Of the program.
        height_px: Of the program.
        duration_s: Sum of the shots.
        shots: Contiguous from 0.
        holds: In order.
        overlays: By start.
        cues: Captions on program time.
        chapters: On program time.
        draft: True where consent is not recorded.
        blur_athlete: True unless consent is "yes".
        notices: What the planner decided and why.
    """

    frame_rate: Fraction
    width_px: int
    height_px: int
    duration_s: Fraction
    shots: tuple[Shot, ...]
    holds: tuple[Hold, ...]
    overlays: tuple[OverlayCue, ...]
    cues: tuple[Cue, ...]
    chapters: tuple[Chapter, ...]
    draft: bool
    blur_athlete: bool
    notices: tuple[str, ...] = ()

    def program_time(self, recording_s: float) -> float | None:
        """Program time of a recording moment; None where the recording is cut away.

        A moment where time was inserted belongs after the inserted hold.
        """
        found: float | None = None
        for shot in self.shots:
            if shot.kind == "card" or shot.kind == "clip" or shot.speed == 0:
                continue
            into = Fraction(recording_s) - shot.source_start_s
            if 0 <= into <= shot.duration_s * shot.speed:
                found = float(shot.program_start_s + into / shot.speed)
        return found
