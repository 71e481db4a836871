"""The path through the clip: which candidate of every picture, given what a player can do.

A Viterbi search (Viterbi 1967) over the candidates of each picture, each in two modes: steady (the
player plays or rests: staying and small steps forward are cheap, jumps dear) and dragged (any move,
dearer the longer). All costs are in nats, lower is better.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from studio.model.arrays import Array

CELLS_PER_VOTE = 128.0
"""Neighbouring cells err together, so that they share one vote: a codec errs by blocks of 8 x 8
where it codes and of 16 x 16 where it predicts."""
CAP = 40.0
"""Nats beyond which one picture's evidence is not believed: it may be torn or half drawn."""
LEAST_ERROR = 1.5
"""Mean square error, levels squared, of a perfect copy: rounding, and scaling twice."""
STEP, BACK, JUMP = 0.7, 3.0, 12.0
"""Steady mode: a move that playing explains, a step of a frame or three either way, a jump."""
ENTER, LEAVE, DRAG, REACH = 4.0, 4.0, 0.5, 0.7
"""Dragging: to begin, to end, each move, and per log of its length in frames."""
FASTEST = 2.2
"""Clip seconds per recording second of the fastest play."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """One stretch of pictures during which the clip is on screen.

    Attributes:
        frames: Candidate clip frames of every picture, (K,) rising.
        nats: Their costs, (K,), least = 0.
        gap_s: (T,) recording time from the last frame of the picture before to the first of this.
    """

    frames: Sequence[Array]
    nats: Sequence[Array]
    gap_s: Array


@dataclass(frozen=True, slots=True)
class Path:
    """The cheapest path and how sure it is.

    Attributes:
        choice: (T,) int64, index into each picture's candidates.
        margin: List of (K,) nats: how much dearer the cheapest path through each candidate is.
    """

    choice: Array
    margin: list[Array]


def nats(cost: Array, noise: float, cells: int) -> Array:
    """Costs of one picture's candidates from their mean square errors, as Gaussian noise says.

    Args:
        cost: (K,) truncated mean square errors.
        noise: Mean square error of the best one where nothing covers the picture.
        cells: Cells compared.
    """
    votes = cells / CELLS_PER_VOTE / (2 * max(noise, LEAST_ERROR))
    apart: Array = np.minimum(votes * (cost - cost.min()), CAP).astype(np.float64)
    return apart


def best_path(
    emissions: Sequence[Array], move: Callable[[int], Array]
) -> tuple[Array, list[Array]]:
    """Viterbi over any number of states per step.

    Args:
        emissions: (S_t,) cost of every state at every step.
        move: `move(t)` gives (S_{t-1}, S_t), the cost of going from step t - 1 to t.

    Returns:
        (T,) int64 the cheapest states; and for every step (S_t,) how much dearer than the
        cheapest path the cheapest path through each state is (its min-marginal).
    """
    ahead = [np.asarray(emissions[0], float)]
    came: list[Array] = [np.empty(0, np.int32)]
    for t in range(1, len(emissions)):
        total = ahead[-1][:, None] + move(t)
        came.append(total.argmin(axis=0).astype(np.int32))
        ahead.append(total.min(axis=0) + emissions[t])
    states = np.empty(len(emissions), np.int64)
    states[-1] = int(ahead[-1].argmin())
    cheapest = float(ahead[-1].min())
    behind = np.zeros(len(ahead[-1]))
    margins = [ahead[-1] - cheapest]
    for t in range(len(emissions) - 1, 0, -1):
        states[t - 1] = came[t][states[t]]
        behind = (move(t) + (behind + emissions[t])[None]).min(axis=1)
        margins.append(ahead[t - 1] + behind - cheapest)
    return states, margins[::-1]


def search(evidence: Evidence, time_s: Array) -> Path:
    """The cheapest path through one stretch.

    Args:
        evidence: The stretch.
        time_s: (F,) clip time of every frame of the clip.
    """
    step_s = float(np.median(np.diff(time_s)))
    emissions = [np.concatenate([n, n]) for n in evidence.nats]

    def move(t: int) -> Array:
        before, after = evidence.frames[t - 1], evidence.frames[t]
        hops = after[None].astype(np.int64) - before[:, None]
        ahead_s = time_s[after][None] - time_s[before][:, None]
        steady = np.full(hops.shape, JUMP)
        steady[np.abs(hops) <= 3] = BACK
        steady[(ahead_s > 0) & (ahead_s <= FASTEST * evidence.gap_s[t] + step_s)] = STEP
        steady[hops == 0] = 0.0
        drag = DRAG + REACH * np.log1p(np.abs(hops))
        return np.block([[steady, drag + ENTER], [steady + LEAVE, drag]])

    states, margins = best_path(emissions, move)
    sizes = np.array([len(n) for n in evidence.nats])
    folded = [np.minimum(m[: len(m) // 2], m[len(m) // 2 :]) for m in margins]
    return Path(states % sizes, folded)
