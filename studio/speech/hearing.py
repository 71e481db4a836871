"""The recogniser: samples in, raw words out, with what it is known to invent taken out."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from studio.errors import ToolError
from studio.model.arrays import Array
from studio.model.speech import Word
from studio.progress import Progress
from studio.speech.voice import Stretch, overlap

PROMPT = (
    "A rowing coach reviews an athlete on the rowing machine: the catch, the drive, the finish, "
    "the recovery, layback, shins vertical, hands away."
)
"""One sentence of the trade; it sets spelling and terms. Hotwords lost sentences."""
UNSURE = 0.25
"""Below this a word alone after the end of a sentence is taken for an echo, not for speech."""
LOOPED = 4
"""A run of words said this often in a row is the recogniser going round in circles."""
THREADS = 1
"""More threads shorten the wait a little and cost more CPU time in all; coaches do other work."""


Pauses = dict[str, int]
"""How the detector cuts pauses out before the recogniser's windows are filled, ms."""
LOOSE: Pauses = {"min_silence_duration_ms": 2000, "speech_pad_ms": 400}
TIGHT: Pauses = {"min_silence_duration_ms": 700, "speech_pad_ms": 250}


class Ear:
    """A loaded speech model.

    Args:
        folder: A faster-whisper model folder.
        language: BCP 47; only its first part counts.
        quick: Whole-number arithmetic: half as long, a little less exact.

    Raises:
        ToolError: The model cannot be loaded, or does not know the language.
    """

    def __init__(self, folder: Path, language: str, *, quick: bool = False) -> None:
        from faster_whisper import WhisperModel

        try:
            self._model = WhisperModel(
                str(folder),
                device="cpu",
                compute_type="int8" if quick else "float32",
                cpu_threads=THREADS,
                local_files_only=True,
            )
        except (RuntimeError, ValueError, OSError) as error:
            raise ToolError(
                f"{folder}: the speech model cannot be loaded ({error}).",
                "Copy the model folder again, or set speech.model to base.",
            ) from error
        self._language = language.split("-")[0].lower() or "en"
        if self._language not in self._model.supported_languages:
            raise ToolError(
                f"{folder}: the speech model does not know the language {language!r}.",
                'Set speech.model to "base", which knows many, or correct episode.language.',
            )

    def hear(self, samples: Array, progress: Progress, pauses: Pauses = LOOSE) -> list[Word]:
        """Words of 16 kHz mono samples (N,), times in seconds from the first sample.

        The prompt goes with voice detection only: without it the prompt is written into silence.
        `pauses` decides where the recogniser's windows begin and end.
        """
        return self._words(
            samples, progress, vad_filter=True, initial_prompt=PROMPT, vad_parameters=pauses
        )

    def hear_again(self, samples: Array, progress: Progress) -> list[Word]:
        """The same for a short stretch known to hold a voice: no detector, no prompt."""
        return self._words(samples, progress, vad_filter=False, initial_prompt=None)

    def _words(self, samples: Array, progress: Progress, **how: Any) -> list[Word]:
        # one temperature only: the higher ones draw lots, and the same sound would not always
        # give the same words
        segments, _ = self._model.transcribe(
            samples, language=self._language, beam_size=1, word_timestamps=True,
            condition_on_previous_text=False, temperature=0.0, **how,
        )  # fmt: skip
        words: list[Word] = []
        done = 0.0
        for segment in segments:
            for w in segment.words or ():
                if w.word.strip():
                    _append(words, w.word.strip(), w)
            progress.advance(max(0.0, segment.end - done))
            done = max(done, segment.end)
        return words


def _append(words: list[Word], text: str, heard: Any) -> None:
    """Add a word; what begins with a hyphen ("-up") is the rest of the one before it."""
    start, end, probability = float(heard.start), float(heard.end), float(heard.probability)
    if words and len(text) > 1 and text[0] == "-" and text[1].isalpha():
        before = words.pop()
        text, start = before.text + text, before.start_s
        probability = min(before.probability, probability)
    words.append(Word(text, start, end, probability))


def sober(words: Sequence[Word], voice: Sequence[Stretch]) -> list[Word]:
    """Words without those a recogniser invents: over silence, as echoes, in circles.

    Args:
        words: As heard.
        voice: Where a voice is heard, on the same clock.
    """
    near = [(start - 0.25, end + 0.25) for start, end in voice]
    said = [w for w in words if overlap(w, near) > 0 or _touches(w, near)]
    return _unlooped(_unechoed(said))


def _touches(word: Word, near: Sequence[Stretch]) -> bool:
    return any(start <= word.start_s <= end for start, end in near)


def bare(text: str) -> str:
    """A word as it is compared: lower case, no punctuation around it, straight apostrophes."""
    return re.sub(r"^[^\w]+|[^\w]+$", "", text.lower().replace("\u2019", "'"))


def _unechoed(words: list[Word]) -> list[Word]:
    """Drop words without length that repeat the one before, and stray ones after a full stop."""
    kept: list[Word] = []
    for i, word in enumerate(words):
        again = bool(kept) and bare(kept[-1].text) == bare(word.text)
        if again and word.end_s - word.start_s < 0.04:
            continue
        following = words[i + 1].start_s if i + 1 < len(words) else float("inf")
        alone = (
            bool(kept) and kept[-1].text[-1] in ".?!" and word.text[-1] in ".?!"
            and following - word.end_s > 1.0
        )  # fmt: skip
        if alone and word.probability < UNSURE:
            continue
        kept.append(word)
    return kept


def _unlooped(words: list[Word]) -> list[Word]:
    """Cut runs of one to eight words that come round `LOOPED` times or more down to one."""
    kept: list[Word] = []
    i = 0
    while i < len(words):
        size, times = _loop(words, i)
        kept += words[i : i + size]
        i += size * times
    return kept


def _loop(words: list[Word], i: int) -> tuple[int, int]:
    for size in range(1, 9):
        run = [bare(w.text) for w in words[i : i + size]]
        times = 1
        while [bare(w.text) for w in words[i + size * times : i + size * (times + 1)]] == run:
            times += 1
        if times >= LOOPED and len(run) == size:
            return size, times
    return 1, 1
