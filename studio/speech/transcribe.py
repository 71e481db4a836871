"""A recording to a transcript: hear, move onto the voice, hear again what was missed, put right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from studio.config import Settings
from studio.errors import MediaError
from studio.ingest.audio import audio_blocks
from studio.model.arrays import Array
from studio.model.media import MediaFile
from studio.model.speech import Sentence, Transcript, Word
from studio.progress import Progress
from studio.speech import glossary, hearing, opinions, sentences, voice, weights
from studio.speech.voice import RATE_HZ, Stretch

DOUBT = 0.4
"""A word the recogniser gives less than this is shown to the coach."""
MARGIN_S = 0.4
"""Sound given on either side of a stretch that is heard again; the detector's own padding."""
QUIETEST = 10 ** (-70 / 20)
"""Peak below which there is nothing to hear: the absolute gate of ITU-R BS.1770, -70 dB."""
PART_S = 600
"""So much is heard at a time: the recogniser unpacks 0.7 MB for every second of it."""
TAIL_S = 60
"""A part ends in the longest pause of so much."""
PEAK = 0.4
"""A recording whose peaks stay below is raised to it."""


def transcribe(
    path: Path, media: MediaFile, settings: Settings, *, progress: Progress
) -> Transcript:
    """Write down what is said, on the recording's clock (first video frame = 0).

    The same file, settings and model give the same transcript.

    Args:
        path: The recording, or a sound file.
        media: What `studio.ingest.probe.probe` said of it.
        settings: Its `speech`, `episode` and `athlete.alias` count.
        progress: Told seconds of recording done.

    Raises:
        MediaError: No sound, or it cannot be read.
        ToolError: The model is missing, damaged or does not know the language.
    """
    if media.audio is None:
        raise MediaError(f"{path}: has no sound.", "Record it again with the microphone on.")
    folder = weights.model_folder(settings.speech.model, progress=progress)
    language = settings.episode.language
    hears: _Hearer | None = None
    words: list[Word] = []
    unheard: list[Stretch] = []
    progress.start("Listening", 2 * float(media.duration_s), "s")
    try:
        for start_s, samples in parts(path, media):
            samples = _levelled(samples)
            spoken = voice.voiced(samples)
            if spoken:
                hears = hears or _Hearer(folder, language)
                heard, missed = hears(samples, spoken, progress)
                words += [_later(w, start_s) for w in voice.snap(heard, spoken)]
                unheard += [(start + start_s, end + start_s) for start, end in missed]
    finally:
        progress.finish()
    repairing = settings.speech.repairs
    mended, repairs = glossary.repair(tuple(words), settings) if repairing else (tuple(words), ())
    return Transcript(
        language=language,
        words=mended,
        sentences=sentences.split(mended),
        source=f"{settings.speech.model} (two hearings, voice detector, trade prompt)",
        repairs=repairs,
        doubtful=_doubtful(mended, unheard),
    )


def parts(path: Path, media: MediaFile) -> Iterator[tuple[float, Array]]:
    """The sound as 16 kHz mono parts that memory can hold: (start in s, samples (N,) float32).

    A part ends in the longest pause of its last minute, so that no word is cut. What is shorter
    than `PART_S` is one part.
    """
    held: list[Array] = []
    count, done = 0, 0
    for block in audio_blocks(path, media, rate_hz=RATE_HZ, channels=1):
        held.append(block[:, 0])
        count += len(block)
        if count >= PART_S * RATE_HZ:
            samples = np.concatenate(held)
            end = len(samples) - TAIL_S * RATE_HZ
            end += round(RATE_HZ * _pause(voice.voiced(samples[end:])))
            yield done / RATE_HZ, samples[:end]
            held, count, done = [samples[end:]], len(samples) - end, done + end
    yield done / RATE_HZ, np.concatenate(held)


def _pause(spoken: Sequence[Stretch]) -> float:
    """The middle of the longest pause within `TAIL_S`, given where a voice is heard."""
    edges = [0.0, *(edge for stretch in spoken for edge in stretch), float(TAIL_S)]
    start, end = max(zip(edges[::2], edges[1::2], strict=True), key=lambda gap: gap[1] - gap[0])
    return (start + end) / 2


def _later(word: Word, by_s: float) -> Word:
    if not by_s:
        return word
    return replace(word, start_s=round(word.start_s + by_s, 3), end_s=round(word.end_s + by_s, 3))


class _Hearer:
    """Both hearings of a part and the second pass, with the models loaded once."""

    def __init__(self, folder: Path, language: str) -> None:
        self._ear = hearing.Ear(folder, language)
        self._other = hearing.Ear(folder, language, quick=True)

    def __call__(
        self, samples: Array, spoken: Sequence[Stretch], progress: Progress
    ) -> tuple[list[Word], tuple[Stretch, ...]]:
        words = hearing.sober(self._ear.hear(samples, progress), spoken)
        heard = self._other.hear(samples, progress, hearing.TIGHT)
        words = opinions.settle(words, hearing.sober(heard, spoken))
        return _second_pass(self._ear, samples, words, spoken, progress)


def _levelled(samples: Array) -> Array:
    """A quiet recording raised to where the voice detector was trained; silence stays silence."""
    peak = float(np.quantile(np.abs(samples), 0.999)) if len(samples) else 0.0
    return samples if peak >= PEAK or peak < QUIETEST else (samples * (PEAK / peak)).clip(-1, 1)


def _second_pass(
    ear: hearing.Ear, samples: Array, words: list[Word], spoken: Sequence[Stretch],
    progress: Progress,
) -> tuple[list[Word], tuple[Stretch, ...]]:  # fmt: skip
    """Hear again where a voice is and no words came; what stays unheard is returned beside."""
    found: list[Word] = list(words)
    for start, end in voice.silent(voice.snap(words, spoken), spoken):
        low = max(0.0, start - MARGIN_S)
        piece = samples[round(low * RATE_HZ) : round((end + MARGIN_S) * RATE_HZ)]
        heard = [
            replace(w, start_s=w.start_s + low, end_s=w.end_s + low)
            for w in ear.hear_again(piece, progress)
        ]
        inside = [w for w in heard if start - 0.1 <= (w.start_s + w.end_s) / 2 <= end + 0.1]
        inside = hearing.sober(inside, [(start, end)])
        if inside and sum(w.probability for w in inside) / len(inside) >= DOUBT:
            found = sorted([*found, *inside], key=lambda w: (w.start_s, w.end_s))
    return found, voice.silent(voice.snap(found, spoken), spoken)


def _doubtful(words: Sequence[Word], unheard: Sequence[Stretch]) -> tuple[Sentence, ...]:
    """Stretches without words (no text) and words with little confidence, by time."""
    told = [Sentence("", round(start, 3), round(end, 3)) for start, end in unheard]
    told += [Sentence(w.text, w.start_s, w.end_s) for w in words if w.probability < DOUBT]
    return tuple(sorted(told, key=lambda s: (s.start_s, s.end_s)))
