"""The coach's own word on holds: move, lengthen, drop or add (`corrections.toml`)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studio.config import HoldFix
from studio.edit.holds import Stop
from studio.edit.moments import Moment
from studio.errors import PlanError
from studio.model.playhead import Playhead
from studio.timebase import clock_face

REACH_S = 1.0
"""A correction means the hold nearest to its time, no farther away than this; recording time."""


def apply_fixes(
    stops: list[Stop],
    fixes: tuple[HoldFix, ...],
    playhead: Playhead,
    all_moments: tuple[Moment, ...],
    *,
    seconds: float,
) -> list[Stop]:
    """The stops as the coach wants them.

    Raises:
        PlanError: A correction names no hold, or a moment when the clip is not on screen.
    """
    for fix in fixes:
        if fix.action in ("add", "compare"):
            stops = [*stops, _added(fix, playhead, all_moments, seconds)]
            continue
        index = _meant(stops, fix)
        rest = stops[:index] + stops[index + 1 :]
        if fix.action == "drop":
            stops = rest
        elif fix.action == "lengthen":
            stops = [*rest, _lengthened(stops[index], fix)]
        elif fix.action == "move":
            stops = [*rest, _moved(stops[index], fix, playhead)]
        else:
            raise PlanError(
                f'corrections.toml: a hold cannot "{fix.action}".',
                'Use "move", "lengthen", "drop", "add" or "compare".',
            )
    return stops


def _meant(stops: list[Stop], fix: HoldFix) -> int:
    def away(stop: Stop) -> float:
        return max(stop.at_s - fix.recording_s, fix.recording_s - stop.end_s, 0.0)

    fitting = [i for i, s in enumerate(stops) if fix.phase in ("", s.moment.phase)]
    index = min(fitting, key=lambda i: away(stops[i]), default=None)
    if index is None or away(stops[index]) > REACH_S:
        raise PlanError(
            f"corrections.toml: there is no hold at {clock_face(fix.recording_s)} to {fix.action}.",
            "Its recording_s must lie within a second of a hold in work/plan.json.",
        )
    return index


def _added(
    fix: HoldFix, playhead: Playhead, all_moments: tuple[Moment, ...], seconds: float
) -> Stop:
    clip_s = _shown(playhead, fix.recording_s)
    same = [m for m in all_moments if fix.phase in ("", m.phase)]
    near = min(same, key=lambda m: abs(m.clip_s - clip_s), default=None)
    phase = fix.phase or (near.phase if near else "catch")
    moment = Moment(phase, near.stroke if near else 0, clip_s)
    length = seconds if fix.seconds is None else fix.seconds
    beside_s = None
    if fix.action == "compare":
        if (fix.to_s is None) == (not fix.other):
            raise PlanError(
                f"corrections.toml: comparing at {clock_face(fix.recording_s)} needs to_s "
                "or other.",
                "Name a moment of the recording that shows the other stroke, or the folder of "
                "another episode.",
            )
        beside_s = None if fix.to_s is None else _shown(playhead, fix.to_s)
    return Stop(moment, clip_s, fix.recording_s, 0.0, length, "you asked for it", beside_s,
                fix.other if fix.action == "compare" else "")  # fmt: skip


def _lengthened(stop: Stop, fix: HoldFix) -> Stop:
    if fix.seconds is None or fix.seconds <= 0:
        raise PlanError(
            f"corrections.toml: lengthening the hold at {clock_face(fix.recording_s)} "
            "needs seconds above 0."
        )
    cover = min(stop.cover_s, fix.seconds)
    # what is longer than the coach's own pause is added at its end, as still time
    return replace(stop, cover_s=cover, insert_s=fix.seconds - cover, why="you set its length")


def _moved(stop: Stop, fix: HoldFix, playhead: Playhead) -> Stop:
    if fix.to_s is None:
        raise PlanError(
            f"corrections.toml: moving the hold at {clock_face(fix.recording_s)} needs to_s."
        )
    clip_s = _shown(playhead, fix.to_s)
    length = stop.cover_s + stop.insert_s
    return replace(stop, moment=replace(stop.moment, clip_s=clip_s), clip_s=clip_s,
                   at_s=fix.to_s, cover_s=0.0, insert_s=length, why="you moved it")  # fmt: skip


def _shown(playhead: Playhead, recording_s: float) -> float:
    """Clip time on screen at a recording time. Raises: PlanError where the clip is absent."""
    row = int(np.searchsorted(playhead.recording_s, recording_s + 1e-3, side="right")) - 1
    clip_s = float(playhead.clip_s[row]) if row >= 0 else float("nan")
    if np.isnan(clip_s):
        raise PlanError(
            f"corrections.toml: the clip is not on screen at {clock_face(recording_s)}.",
            "Choose a moment when it is.",
        )
    return clip_s
