"""A plan that contradicts itself or its media is refused before anything is rendered."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from studio.edit.grid import picture_end
from studio.errors import PlanError
from studio.model.media import MediaFile
from studio.model.plan import EditPlan, Shot

_KINDS = ("recording", "hold", "clip", "card")
_SOUNDS = ("source", "room", "none")


def validate(plan: EditPlan, *, recording: MediaFile | None, clip: MediaFile | None) -> None:
    """Check a plan against itself and its media.

    Raises:
        PlanError: Naming the first thing that is wrong.
    """
    if not plan.shots:
        raise PlanError("The edit plan holds no shots.", "Name a recording or a clip.")
    _contiguous(plan)
    for shot in plan.shots:
        _shot(shot, plan.frame_rate)
        _inside(shot, recording, clip)
    _holds(plan)
    for what, end_s in (
        *(("a caption", Fraction(c.end_ms, 1000)) for c in plan.cues),
        *(("a chapter", Fraction(c.end_s)) for c in plan.chapters),
        *(("an overlay", Fraction(o.end_s)) for o in plan.overlays),
    ):
        if end_s > plan.duration_s + Fraction(1, 1000):
            raise PlanError(f"The edit plan has {what} after its end.")
    for before, after in pairwise(plan.cues):
        if after.start_ms < before.end_ms:
            raise PlanError(f"The edit plan has overlapping captions at {after.start_ms} ms.")


def _contiguous(plan: EditPlan) -> None:
    now = Fraction(0)
    for number, shot in enumerate(plan.shots):
        if shot.program_start_s != now:
            gap = "overlaps the one before" if shot.program_start_s < now else "leaves a gap"
            raise PlanError(f"Shot {number} of the edit plan {gap} ({float(now):.3f} s).")
        now += shot.duration_s
    if now != plan.duration_s:
        raise PlanError(
            f"The edit plan says {float(plan.duration_s):.3f} s but its shots last "
            f"{float(now):.3f} s."
        )


def _shot(shot: Shot, rate: Fraction) -> None:
    where = f"The shot at {float(shot.program_start_s):.3f} s"
    if shot.kind not in _KINDS or shot.sound not in _SOUNDS:
        raise PlanError(f"{where} is of no known kind ({shot.kind}, {shot.sound}).")
    if shot.duration_s <= 0 or shot.speed < 0:
        raise PlanError(f"{where} has no length or runs backwards.")
    if (shot.duration_s * rate).denominator != 1:
        raise PlanError(f"{where} does not last whole frames.")
    if shot.kind in ("recording", "clip") and shot.speed == 0:
        raise PlanError(f"{where} plays at no speed.")
    if shot.sound == "source" and shot.speed != 1:
        raise PlanError(f"{where} would change the speed of the voice.")


def _inside(shot: Shot, recording: MediaFile | None, clip: MediaFile | None) -> None:
    if shot.kind == "card":
        return
    own = shot.kind == "clip" or recording is None
    media = clip if own else recording
    if media is None:
        raise PlanError(f"The shot at {float(shot.program_start_s):.3f} s has no media.")
    slack = Fraction(1, 10)  # the last frame stays for its own length, which files state loosely
    end = shot.source_start_s + shot.duration_s * shot.speed
    if shot.source_start_s < 0 or end > picture_end(media) + slack:
        raise PlanError(
            f"The shot at {float(shot.program_start_s):.3f} s lies outside {media.path}."
        )
    if shot.sound == "source" and media.audio is None:
        raise PlanError(f"The shot at {float(shot.program_start_s):.3f} s has no sound to play.")


def _holds(plan: EditPlan) -> None:
    still = {s.program_start_s: s for s in plan.shots if s.kind == "hold"}
    for hold in plan.holds:
        shot = still.get(hold.program_start_s)
        if shot is None or shot.duration_s != hold.duration_s:
            raise PlanError(
                f"The hold at {float(hold.program_start_s):.3f} s is not among the shots."
            )
