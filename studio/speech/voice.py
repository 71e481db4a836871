"""Where a voice is heard, by the Silero detector, and words moved onto the voice's own edges."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from studio.model.arrays import Array
from studio.model.speech import Word

RATE_HZ = 16_000
"""Of the samples; the detector and the recogniser both need it."""
WINDOW = 512
"""Samples per probability of the detector: 32 ms."""
ON, OFF = 0.5, 0.35
"""The detector's own hysteresis: a voice begins above `ON` and ends below `OFF`."""
PAUSE_S = 0.2
"""A silence shorter than this is a stop consonant, not a pause between words."""
LEAST_S = 0.1
"""A voice shorter than this is a click."""
REACH_S = 0.9
"""How far the recogniser's word times may be off beside a pause; 0.45 s is its 95th percentile."""

Stretch = tuple[float, float]
"""Start and end of a stretch, seconds of recording time."""


def voiced(samples: Array) -> tuple[Stretch, ...]:
    """Stretches in which somebody speaks, from 16 kHz mono samples (N,), -1 to 1."""
    from faster_whisper.vad import get_vad_model

    if len(samples) == 0:
        return ()
    padded = np.pad(samples, (0, -len(samples) % WINDOW)).astype(np.float32)
    chances = np.asarray(get_vad_model()(padded), dtype=np.float64).reshape(-1)
    return stretches(chances, WINDOW / RATE_HZ)


def stretches(chances: Array, step_s: float) -> tuple[Stretch, ...]:
    """Voice probabilities (N,), one every `step_s`, to stretches; short pauses are bridged."""
    found: list[list[float]] = []
    speaking = False
    for i, chance in enumerate(chances):
        if not speaking and chance >= ON:
            speaking = True
            if found and i * step_s - found[-1][1] < PAUSE_S:
                continue
            found.append([i * step_s, i * step_s])
        elif speaking and chance < OFF:
            speaking = False
            found[-1][1] = i * step_s
    if speaking:
        found[-1][1] = len(chances) * step_s
    return tuple((start, end) for start, end in found if end - start >= LEAST_S)


def overlap(word: Word, voice: Sequence[Stretch]) -> float:
    """Seconds of a word during which a voice is heard."""
    return sum(max(0.0, min(word.end_s, end) - max(word.start_s, start)) for start, end in voice)


def silent(words: Sequence[Word], voice: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """Voiced stretches, or parts of them of at least a second, in which no word lies."""
    missing: list[Stretch] = []
    for start, end in voice:
        at = start
        for word in words:
            if word.end_s <= at or word.start_s >= end:
                continue
            missing.append((at, word.start_s))
            at = max(at, word.end_s)
        missing.append((at, end))
    whole = set(voice)
    return tuple(
        (start, end)
        for start, end in missing
        if end - start >= 1.0 or ((start, end) in whole and end - start >= 0.4)
    )


def snap(words: Sequence[Word], voice: Sequence[Stretch]) -> tuple[Word, ...]:
    """Words moved so that those beside a pause begin and end where the voice does.

    A recogniser's word times come from attention weights and are poor beside pauses; the detector's
    edges are good to its 32 ms window. For each pause the gap between two words that
    fits it best is sought, and the words on either side are put on its edges.
    """
    made = list(words)
    if not made or not voice:
        return tuple(made)
    made[0] = _from(made[0], 0.0, voice[0][0])
    first = 1
    for (_, ends), (starts, _) in itertools.pairwise(voice):
        best = _gap(made, first, ends, starts)
        if best is None:
            continue
        made[best - 1] = _until(made[best - 1], ends)
        made[best] = _from(made[best], ends, starts)
        first = best + 1
    made[-1] = _until(made[-1], voice[-1][1])
    return _ordered(made)


def _gap(words: list[Word], first: int, ends: float, starts: float) -> int | None:
    """Index of the word that follows the pause `ends` to `starts`; None where none fits."""
    best, best_cost = None, REACH_S
    for i in range(first, len(words)):
        before, after = words[i - 1], words[i]
        if after.start_s - starts > REACH_S + 1:
            break
        middle = (before.end_s + after.start_s) / 2
        cost = max(ends - middle, middle - starts, 0.0)
        # a word after a pause may be stamped seconds early, one before it hardly late
        cost += min(0.15, max(0.0, starts - after.end_s)) + 0.5 * max(0.0, before.start_s - ends)
        if before.text.endswith((".", "?", "!", "…")):
            cost -= 0.4
        elif before.text.endswith((",", ";", ":")):
            cost -= 0.15
        if cost < best_cost:
            best, best_cost = i, cost
    return best


def _from(word: Word, ends: float, start_s: float) -> Word:
    """The word beginning where the voice does, however early in the silence it was stamped."""
    if not ends - REACH_S <= word.start_s <= start_s + REACH_S:
        return word
    return replace(word, start_s=start_s, end_s=max(word.end_s, start_s + 0.06))


def _until(word: Word, end_s: float) -> Word:
    if abs(word.end_s - end_s) > REACH_S:
        return word
    return replace(word, end_s=end_s, start_s=min(word.start_s, end_s - 0.06))


def _ordered(words: list[Word]) -> tuple[Word, ...]:
    """Word times that never go back; a word squeezed between two keeps at least 20 ms."""
    made: list[Word] = []
    at = 0.0
    for word in words:
        start = max(word.start_s, at)
        end = max(word.end_s, start + 0.02)
        made.append(replace(word, start_s=round(start, 3), end_s=round(end, 3)))
        at = made[-1].start_s + 0.02
    for i in range(len(made) - 1):
        following = made[i + 1].start_s
        if made[i].end_s > following:
            made[i] = replace(made[i], end_s=max(following, made[i].start_s + 0.02))
    return tuple(made)
