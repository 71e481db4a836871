"""A recording to a transcript: hear, move onto the voice, hear again what was missed, put right."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from studio.config import Settings
from studio.errors import MediaError
from studio.ingest.audio import read_audio
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
    samples = read_audio(path, media, rate_hz=RATE_HZ, channels=1)[:, 0]
    made = transcribe_samples(samples, folder, settings, progress=progress)
    return replace(
        made, source=f"{settings.speech.model} (two hearings, voice detector, trade prompt)"
    )


def transcribe_samples(
    samples: Array, folder: Path, settings: Settings, *, progress: Progress
) -> Transcript:
    """The same from 16 kHz mono samples (N,) float32 and a model folder; sample 0 is time 0.

    Raises:
        ToolError: The model cannot be loaded or does not know the language.
    """
    language = settings.episode.language
    samples = _levelled(samples)
    spoken = voice.voiced(samples)
    words: list[Word] = []
    unheard: tuple[Stretch, ...] = ()
    if spoken:
        ear = hearing.Ear(folder, language)
        progress.start("Listening", 2 * len(samples) / RATE_HZ, "s")
        try:
            words = hearing.sober(ear.hear(samples, progress), spoken)
            other = hearing.Ear(folder, language, quick=True)
            heard = other.hear(samples, progress, hearing.TIGHT)
            words = opinions.settle(words, hearing.sober(heard, spoken))
            words, unheard = _second_pass(ear, samples, words, spoken, progress)
        finally:
            progress.finish()
    snapped = voice.snap(words, spoken)
    repairing = settings.speech.repairs
    mended, repairs = glossary.repair(snapped, settings) if repairing else (snapped, ())
    return Transcript(
        language=language,
        words=mended,
        sentences=sentences.split(mended),
        source=str(folder.name),
        repairs=repairs,
        doubtful=_doubtful(mended, unheard),
    )


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
