"""The search against librosa's Viterbi, and the min-marginals against trying every path."""

import itertools

import librosa
import numpy as np
import pytest

from studio.playhead.search import best_path


def chances(rng, states, steps):
    """Random emissions (steps, states) and a random transition matrix, all positive."""
    seen = rng.uniform(0.05, 1.0, (steps, states))
    move = rng.uniform(0.05, 1.0, (states, states))
    return seen, move / move.sum(axis=1, keepdims=True)


@pytest.mark.parametrize("seed", range(8))
def test_the_path_is_the_one_librosa_finds(seed):
    rng = np.random.default_rng(seed)
    seen, move = chances(rng, 5, 12)
    start = np.full(5, 1 / 5)
    theirs, log_chance = librosa.sequence.viterbi(
        (seen / seen.max()).T, move, p_init=start, return_logp=True
    )
    path, margins = best_path(list(-np.log(seen / seen.max())), lambda _: -np.log(move))
    assert path.tolist() == theirs.tolist()
    steps = itertools.pairwise(path)
    cost = -np.log(seen / seen.max())[np.arange(12), path].sum()
    cost -= sum(np.log(move[a, b]) for a, b in steps)
    assert cost - np.log(start[0]) == pytest.approx(-log_chance)
    assert all(m[s] == pytest.approx(0, abs=1e-9) for m, s in zip(margins, path, strict=True))


def test_margins_are_what_every_path_tried_gives():
    rng = np.random.default_rng(3)
    sizes = [3, 2, 4, 3]
    emissions = [rng.uniform(0, 5, n) for n in sizes]
    moves = [np.empty(0), *(rng.uniform(0, 5, pair) for pair in itertools.pairwise(sizes))]
    path, margins = best_path(emissions, lambda t: moves[t])
    costs = {
        states: sum(e[s] for e, s in zip(emissions, states, strict=True))
        + sum(moves[t][states[t - 1], states[t]] for t in range(1, len(sizes)))
        for states in itertools.product(*(range(n) for n in sizes))
    }
    least = min(costs.values())
    assert costs[tuple(path)] == pytest.approx(least)
    for t, n in enumerate(sizes):
        for state in range(n):
            through = min(cost for states, cost in costs.items() if states[t] == state)
            assert margins[t][state] == pytest.approx(through - least)
