"""Stops and cards to contiguous shots, and recording time to program time through them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from studio.edit.grid import Grid
from studio.edit.holds import Stop
from studio.model.plan import Hold, Shot

ZERO, ONE = Fraction(0), Fraction(1)


@dataclass
class Cutter:
    """Lays shots end to end on the program's frame grid."""

    grid: Grid
    shots: list[Shot]
    now_s: Fraction = ZERO

    def add(self, kind: str, duration_s: Fraction, source_s: Fraction, speed: Fraction,
            sound: str, card: str = "") -> Shot | None:  # fmt: skip
        """Append a shot; nothing where it would be shorter than a frame."""
        if duration_s <= 0:
            return None
        shot = Shot(kind, self.now_s, duration_s, source_s, speed, sound, card)
        self.shots.append(shot)
        self.now_s += duration_s
        return shot


def cut_recording(
    cutter: Cutter, end_s: Fraction, stops: Sequence[Stop], *, sound: bool
) -> list[Hold]:
    """Lay a whole recording with its stops; returns the holds with their program times.

    Args:
        cutter: Where the shots go.
        end_s: Length of the recording, on the grid.
        stops: In order, disjoint; recording time.
        sound: The recording has sound.
    """
    heard, tone = ("source", "room") if sound else ("none", "none")
    holds: list[Hold] = []
    at = ZERO
    for stop in stops:
        start = min(max(cutter.grid.snap(stop.at_s), at), end_s)
        resume = min(max(cutter.grid.snap(stop.end_s), start), end_s)
        cutter.add("recording", start - at, at, ONE, heard)
        covered = cutter.add("hold", resume - start, start, ONE, heard)
        added = cutter.add("hold", cutter.grid.snap(stop.insert_s), resume, ZERO, tone)
        holds += [_hold(stop, shot) for shot in (covered, added) if shot is not None]
        at = resume
    cutter.add("recording", end_s - at, at, ONE, heard)
    return holds


def _hold(stop: Stop, shot: Shot) -> Hold:
    return Hold(stop.moment.phase, stop.moment.stroke, stop.clip_s, shot.program_start_s,
                shot.duration_s, shot.speed == 0, stop.why, stop.beside_s,
                stop.beside_episode)  # fmt: skip


class Clock:
    """Recording time to program time through the shots of a plan."""

    def __init__(self, shots: Sequence[Shot]) -> None:
        self._runs = [s for s in shots if s.kind in ("recording", "hold") and s.speed > 0]

    def after(self, recording_s: Fraction) -> Fraction:
        """Program time at which something beginning then begins: after any hold inserted there."""
        for shot in reversed(self._runs):
            if recording_s >= shot.source_start_s:
                return _at(shot, recording_s)
        return self._runs[0].program_start_s

    def before(self, recording_s: Fraction) -> Fraction:
        """Program time at which something ending then ends: before any hold inserted there."""
        for shot in self._runs:
            if recording_s <= shot.source_start_s + shot.duration_s * shot.speed:
                return _at(shot, recording_s)
        last = self._runs[-1]
        return last.program_start_s + last.duration_s


def _at(shot: Shot, recording_s: Fraction) -> Fraction:
    into = (recording_s - shot.source_start_s) / shot.speed
    return shot.program_start_s + min(max(into, ZERO), shot.duration_s)
