"""What the player did: playing with its rate, paused, dragged, from which frame stood when."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from studio.model.arrays import Array

REST_S = 0.45
"""A frame that stands this long outside of play is a pause; within a drag hands rest less."""
BRIEF_S = 0.14
"""Beside no other drag, a frame that stands even this long is a pause."""
FEWEST_CHANGES = 5
"""Regular changes of frame that make a play: a drag is rarely even for so long."""
FASTEST = 2.6
"""Rate of the fastest play looked for, clip seconds per recording second."""
STEPS_PER_S, STEPPED = 5.5, 10
"""Fewer even changes a second than this may be steps by hand or by a held key, of a few frames;
play at a tenth of its rate looks the same but goes on for at least so many. Play at a quarter of
its rate makes 6 a second of a clip of 24."""
KNOWN_TICKS = 4
"""A clip frame that stands for at least so many pictures is not mistaken for its neighbour."""
WIDEST_STEP_S = 0.2
"""Clip time a player moves on by at most between two pictures while playing."""


@dataclass(frozen=True, slots=True)
class Run:
    """One clip frame standing on screen: recording frames `first` to `last` - 1."""

    first: int
    last: int
    start_s: float
    end_s: float
    frame: int


@dataclass(frozen=True, slots=True)
class Play:
    """Runs `first` to `last` (both included), played at `rate`; clip time `clip_s` at `at_s`."""

    first: int
    last: int
    rate: float
    at_s: float
    clip_s: float


def runs_of(frame: Array, time_s: Array, end_s: float) -> list[Run]:
    """Stretches of one clip frame; (N,) int frames, -1 absent; absent stretches are runs too."""
    edges = np.flatnonzero(np.diff(frame)) + 1
    firsts = np.concatenate([[0], edges]).astype(int)
    lasts = np.concatenate([edges, [len(frame)]]).astype(int)
    ends = np.append(time_s, end_s)
    return [
        Run(int(a), int(b), float(time_s[a]), float(ends[b]), int(frame[a]))
        for a, b in zip(firsts, lasts, strict=True)
    ]


def plays_of(runs: list[Run], clip_s: Array, tick_s: float) -> list[Play]:
    """Chains of runs whose changes lie on a straight line.

    Args:
        runs: All runs.
        clip_s: (F,) clip time of every clip frame.
        tick_s: Usual time between two frames of the recording.
    """
    step_s = float(np.median(np.diff(clip_s)))
    found: list[Play] = []
    k = 1
    while k < len(runs):
        play = _play_from(runs, k, clip_s, tick_s, step_s)
        if play is None:
            k += 1
        else:
            found.append(play)
            k = play.last + 1
    return found


def _play_from(runs: list[Run], k: int, clip_s: Array, tick_s: float, step_s: float) -> Play | None:
    """The longest play whose first change is the start of run `k`."""
    at: list[float] = []
    shown: list[float] = []
    line = (0.0, 0.0)
    last = k
    for i in range(k, len(runs)):
        if not _moves_on(runs[i - 1], runs[i], clip_s, step_s):
            break
        at.append(runs[i].start_s)
        shown.append(float(clip_s[runs[i].frame]))
        if len(at) >= 3:
            new = _line(np.array(at), np.array(shown))
            slack = _slack(new[1], tick_s, step_s)
            off = np.abs(new[0] + new[1] * (np.array(at) - at[0]) - np.array(shown))
            if off.max() > slack or not 0 < new[1] <= FASTEST:
                break
            line = new
        last = i
    fewest = FEWEST_CHANGES if line[1] >= STEPS_PER_S * step_s else STEPPED
    if last - k + 1 < fewest:
        return None
    return Play(k - 1, last, line[1], at[0], line[0])


def _slack(rate: float, tick_s: float, step_s: float) -> float:
    """Clip time by which the changes of a play may lie off its line.

    A player changes the picture within a tick of the due time. In quick play a frame may be
    mistaken for its neighbour besides; in slow play it may not.
    """
    known = step_s >= KNOWN_TICKS * tick_s * rate
    return rate * 1.5 * tick_s + (0.15 if known else 0.75) * step_s


def _moves_on(before: Run, after: Run, clip_s: Array, step_s: float) -> bool:
    if before.frame < 0 or after.frame < 0:
        return False
    hop = clip_s[after.frame] - clip_s[before.frame]
    return bool(0 < hop <= max(WIDEST_STEP_S, 3 * step_s))


def _line(x: Array, y: Array) -> tuple[float, float]:
    """Value at the first x, and slope, by least squares."""
    u = x - x[0]
    slope = float(((u - u.mean()) * (y - y.mean())).sum() / max(((u - u.mean()) ** 2).sum(), 1e-12))
    return float(y.mean() - slope * u.mean()), slope


def states_of(runs: list[Run], plays: list[Play], clip_s: Array, count: int) -> Array:
    """(N,) int8, index into `model.playhead.STATES`: absent, playing, paused, scrubbing."""
    state = np.zeros(count, np.int8)
    for run in runs:
        if run.frame >= 0:
            rests = run.end_s - run.start_s >= REST_S
            state[run.first : run.last] = 2 if rests else 3
    step_s = float(np.median(np.diff(clip_s)))
    for play in plays:
        inner = slice(runs[play.first + 1].first, runs[play.last].first)
        state[inner] = 1
        beat_s = step_s / play.rate
        for edge in (play.first, play.last):
            run = runs[edge]
            rest_s = run.end_s - run.start_s - beat_s
            if rest_s <= 0.6 * beat_s + 0.04:
                state[run.first : run.last] = 1
                continue
            if rest_s >= BRIEF_S:
                state[run.first : run.last] = 2
            if edge == play.last:
                part = min(1.0, beat_s / (run.end_s - run.start_s))
                state[run.first : run.first + max(1, round(part * (run.last - run.first)))] = 1
    _settle_steps(runs, state)
    return state


def _settle_steps(runs: list[Run], state: Array) -> None:
    """Short runs that are no drag: one beside none, or steps of one frame at a time."""
    k = 0
    while k < len(runs):
        if runs[k].frame < 0 or state[runs[k].last - 1] != 3:
            k += 1
            continue
        m = k
        while m + 1 < len(runs) and runs[m + 1].frame >= 0 and state[runs[m + 1].first] == 3:
            m += 1
        chain = runs[max(0, k - 1) : m + 2]
        hops = {
            b.frame - a.frame for a, b in itertools.pairwise(chain) if a.frame >= 0 and b.frame >= 0
        }
        slow = all(r.end_s - r.start_s > BRIEF_S for r in runs[k : m + 1])
        if (slow and (hops <= {1} or hops <= {-1})) or not hops:
            for run in runs[k : m + 1]:
                mine = state[run.first : run.last]
                mine[mine == 3] = 2
        k = m + 1
