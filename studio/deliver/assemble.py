"""The one module that speaks to moviepy: it assembles the sound track and the cards.

moviepy holds whole clips in memory and is slow on pictures, so it gets one section of sound at
a time and cards that last seconds; everything else never passes through it.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from studio.model.arrays import Array

RATE_HZ = 48_000
SECTION_S = 20
"""Sound assembled at once: 15 MB."""
JOIN_S = 0.02
"""Crossfade at a join: too short to hear as a fade, long enough not to click (the lowest voice is
about 80 Hz, one period 12 ms)."""
CARD_FADE_S = 0.3


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the sound track.

    Attributes:
        start: First sample of program.
        count: Samples.
        read: Called with a first sample and a count, counted from the piece's own start (which may
            be negative, or run past the end, by the length of a crossfade); returns (n, channels)
            float32.
    """

    start: int
    count: int
    read: Callable[[int, int], Array]


def sections(pieces: Sequence[Piece], total: int, channels: int) -> Iterator[Array]:
    """The assembled sound, section by section, each (n, channels) float32, `total` samples in all.

    Neighbours overlap by a crossfade of equal power centred on their join; the first sample of the
    program and the last are faded too.
    """
    from moviepy import AudioArrayClip, CompositeAudioClip

    length = SECTION_S * RATE_HZ
    for first in range(0, total, length):
        count = min(length, total - first)
        found = [cut for piece in pieces if (cut := _cut(piece, first, count)) is not None]
        if len(found) == 1 and len(found[0][1]) == count:
            yield found[0][1]  # one piece all through: nothing to mix
            continue
        if not found:
            yield np.zeros((count, channels), np.float32)
            continue
        clips = [
            AudioArrayClip(samples, fps=RATE_HZ).with_start((at - first) / RATE_HZ)
            for at, samples in found
        ]
        times = np.arange(count) / RATE_HZ
        mixed = np.asarray(CompositeAudioClip(clips).get_frame(times), np.float32)
        # moviepy's clips refer to themselves and would pile up to gigabytes over hours of sound
        clips.clear()
        gc.collect()
        yield mixed.reshape(count, -1)[:, :channels]  # it makes two of one


def card_frames(image: Array, seconds: float, rate: float) -> Iterator[Array]:
    """A card's frames, faded in from black and out to black.

    Args:
        image: (h, w, 3) uint8 RGB.
        seconds: How long it stands.
        rate: Frames per second.

    Yields:
        (h, w, 3) uint8 RGB, one a frame.
    """
    from moviepy import ImageClip, vfx

    fades = [vfx.FadeIn(CARD_FADE_S), vfx.FadeOut(CARD_FADE_S)]
    clip = ImageClip(image).with_duration(seconds).with_effects(fades)
    for number in range(round(seconds * rate)):
        yield np.asarray(clip.get_frame(number / rate), np.uint8)


def _cut(piece: Piece, first: int, count: int) -> tuple[int, Array] | None:
    """The part of a piece inside a section, with its fades: its program sample and its sound."""
    half = round(JOIN_S * RATE_HZ / 2)
    start, end = piece.start - half, piece.start + piece.count + half
    a, b = max(start, first), min(end, first + count)
    if a >= b:
        return None
    samples = piece.read(a - piece.start, b - a)
    if start + 2 * half <= a and b <= end - 2 * half:
        return a, samples
    at = np.arange(a, b)
    rise = np.clip((at - start + 0.5) / (2 * half), 0, 1)
    fall = np.clip((end - at - 0.5) / (2 * half), 0, 1)
    gain = np.sin(np.pi / 2 * rise) * np.sin(np.pi / 2 * fall)
    return a, (samples * gain[:, None]).astype(np.float32)
