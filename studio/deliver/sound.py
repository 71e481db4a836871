"""The program's sound: the recording's own, room tone in inserted holds, loudness set."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from studio.deliver.assemble import RATE_HZ, Piece, sections
from studio.deliver.ffmpeg import run
from studio.deliver.loudness import integrated, measure, raw_form, set_loudness
from studio.ingest.audio import audio_blocks
from studio.model.arrays import Array
from studio.model.media import MediaFile
from studio.model.plan import EditPlan, Shot
from studio.store import folder_aside, write_aside

PEAK_DB = -1.0
"""Highest true peak of the finished file, dBTP (EBU R 128)."""
SPARE_DB = 0.5
"""AAC moves peaks about; the sound is limited this much lower before it is encoded."""
KBPS = 192
WINDOW_S = 0.1
TONE_S = 0.6
"""Room tone is this long a stretch, repeated: long enough not to be heard as a pitch."""
SILENT_DB = -80.0
"""Below this a stretch is digital silence, not a room."""


@dataclass(frozen=True, slots=True)
class SoundTrack:
    """A finished sound track.

    Attributes:
        path: Raw 32-bit float samples, 48 kHz, channels interleaved.
        samples: How many, per channel.
        channels: One where the recording has one, to be played on both sides; else two.
        before_lufs: Integrated loudness as recorded.
        gain_db: What was applied.
    """

    path: Path
    samples: int
    channels: int
    before_lufs: float
    gain_db: float


SPREAD = 0.5**0.5
"""One channel goes to both sides at equal power, so that it stays as loud as it was recorded."""


class RawSound:
    """A file's sound, unpacked to disk so that any stretch can be read with little memory."""

    def __init__(self, path: Path, media: MediaFile, folder: Path) -> None:
        assert media.audio is not None
        self._file = folder / "source.f32"
        self.count = 0
        self.channels = min(2, media.audio.channels)
        share = np.float32(SPREAD if self.channels == 1 else 1)
        levels: list[Array] = []
        window = round(WINDOW_S * RATE_HZ)
        with self._file.open("wb") as out:
            blocks = audio_blocks(path, media, rate_hz=RATE_HZ, channels=self.channels)
            for block in _gathered(blocks, window):
                block *= share
                out.write(np.ascontiguousarray(block, "<f4").tobytes())
                self.count += len(block)
                whole = len(block) // window
                parts = block[: whole * window].reshape(whole, self.channels * window)
                power = (parts**2).mean(1)
                levels.append(10 * np.log10(power + 1e-20))
        self.levels_db = np.concatenate([np.zeros(0), *levels])

    def read(self, first: int, count: int) -> Array:
        """(count, channels) float32 from sample `first`; silence outside the file."""
        width = self.channels
        out = np.zeros((count, width), np.float32)
        a, b = max(0, first), min(self.count, first + count)
        if a < b:
            found = np.fromfile(self._file, "<f4", (b - a) * width, offset=a * 4 * width)
            out[a - first : b - first] = found.reshape(-1, width)
        return out

    def room_tone(self) -> Array:
        """(n, channels) float32: the quietest stretch that is not digital silence, made to loop.

        Where the file holds nothing but sound and digital silence, its rooms are silent too.
        """
        windows = round(TONE_S / WINDOW_S)
        count = round(TONE_S * RATE_HZ)
        if len(self.levels_db) < windows:
            return np.zeros((count, self.channels), np.float32)
        lowest = np.lib.stride_tricks.sliding_window_view(self.levels_db, windows)
        loud, soft = lowest.max(1), lowest.min(1)
        loud = np.where(soft < SILENT_DB, np.inf, loud)
        start = int(np.argmin(loud))
        if not np.isfinite(loud[start]) or loud[start] > np.median(self.levels_db) - 6:
            # no pause found: better nothing than a word
            return np.zeros((count, self.channels), np.float32)
        first = round(start * WINDOW_S * RATE_HZ)
        return _looped(self.read(first, count))


def write_sound(
    plan: EditPlan,
    recording: tuple[Path, MediaFile] | None,
    *,
    target_lufs: float,
    out: Path,
) -> dict[str, float] | None:
    """Write the program's sound track as AAC in an MP4; lower again should encoding raise a peak.

    Args:
        plan: The program.
        recording: The coach's recording.
        target_lufs: Integrated loudness wanted, LUFS (ITU-R BS.1770).
        out: The file (.m4a), written aside and renamed; an old one is removed where there is none.

    Returns:
        Loudness before and after, true peak and gain; None where the program has no sound.

    Raises:
        MediaError: The sound cannot be read.
        OutputError: Cannot write.
        ToolError: ffmpeg is missing.
    """
    ceiling_db = PEAK_DB - SPARE_DB
    with folder_aside(out.parent) as folder:
        while True:
            track = program_sound(
                plan, recording, target_lufs=target_lufs, folder=folder, ceiling_db=ceiling_db
            )
            if track is None:
                out.unlink(missing_ok=True)
                return None
            encoded = folder / "sound.m4a"
            form = [*raw_form(track.channels), "-i", str(track.path)]
            both = ["-af", "pan=stereo|c0=c0|c1=c0"] if track.channels == 1 else []
            run([*form, *both, "-c:a", "aac", "-b:a", f"{KBPS}k", str(encoded)], out)
            after = measure(encoded, channels=None, twin=track.channels == 1)
            if after.peak_db <= PEAK_DB or ceiling_db < PEAK_DB - 3:
                break
            ceiling_db -= after.peak_db - PEAK_DB + 0.1
        with write_aside(out) as aside:
            encoded.replace(aside)
    return {
        "loudness_before_lufs": track.before_lufs,
        "loudness_lufs": after.lufs,
        "true_peak_db": after.peak_db,
        "gain_db": round(track.gain_db, 2),
    }


def program_sound(
    plan: EditPlan,
    recording: tuple[Path, MediaFile] | None,
    *,
    target_lufs: float,
    folder: Path,
    ceiling_db: float,
) -> SoundTrack | None:
    """Assemble the whole sound track and set its loudness.

    Args:
        plan: The program.
        recording: The coach's recording; None or without sound = no sound track.
        target_lufs: Integrated loudness wanted, LUFS (ITU-R BS.1770).
        folder: For working files; the caller removes it.
        ceiling_db: True peak not to be passed, dBTP.

    Raises:
        MediaError: The sound cannot be read.
        ToolError: ffmpeg is missing.
    """
    if recording is None or recording[1].audio is None:
        return None
    source = RawSound(*recording, folder)
    total = _sample(plan.duration_s)
    assembled = folder / "assembled.f32"
    with assembled.open("wb") as out:
        for section in sections(pieces(plan, source), total, source.channels):
            out.write(np.ascontiguousarray(section, "<f4").tobytes())
    before = integrated(assembled, source.channels)
    finished = folder / "sound.f32"
    gain_db = set_loudness(
        assembled,
        finished,
        before,
        target_lufs=target_lufs,
        ceiling_db=ceiling_db,
        channels=source.channels,
    )
    return SoundTrack(finished, total, source.channels, before, gain_db)


def pieces(plan: EditPlan, source: RawSound) -> list[Piece]:
    """The sound track as pieces: shots that run on in the recording are one."""
    tone = source.room_tone()
    made: list[Piece] = []
    for part in _runs(plan.shots):
        start = _sample(part[0].program_start_s)
        end = _sample(part[-1].program_start_s + part[-1].duration_s)
        if part[0].sound == "none":
            continue
        if part[0].sound == "room":
            made.append(Piece(start, end - start, _Loop(tone)))
        else:
            made.append(Piece(start, end - start, _From(source, _sample(part[0].source_start_s))))
    return made


@dataclass(frozen=True, slots=True)
class _From:
    source: RawSound
    first: int

    def __call__(self, first: int, count: int) -> Array:
        return self.source.read(self.first + first, count)


@dataclass(frozen=True, slots=True)
class _Loop:
    tone: Array

    def __call__(self, first: int, count: int) -> Array:
        return np.asarray(self.tone[np.arange(first, first + count) % len(self.tone)])


def _runs(shots: tuple[Shot, ...]) -> list[list[Shot]]:
    runs: list[list[Shot]] = []
    for shot in shots:
        before = runs[-1][-1] if runs else None
        goes_on = before is not None and before.sound == shot.sound
        if goes_on and shot.sound == "source":
            assert before is not None
            goes_on = before.source_start_s + before.duration_s == shot.source_start_s
        if goes_on:
            runs[-1].append(shot)
        else:
            runs.append([shot])
    return runs


def _looped(tone: Array) -> Array:
    """The end of a stretch melted into its beginning, so that it repeats without a seam."""
    fade = len(tone) // 4
    share = np.linspace(0, np.pi / 2, fade)[:, None]
    head = tone[:fade] * np.sin(share) + tone[-fade:] * np.cos(share)
    return np.asarray(np.concatenate([head, tone[fade:-fade]]), np.float32)


def _gathered(blocks: Iterator[Array], multiple: int) -> Iterator[Array]:
    """Blocks of a second or so, of whole windows all but the last: few steps cost less."""
    held: list[Array] = []
    for block in blocks:
        held.append(block)
        count = sum(map(len, held))
        if count >= RATE_HZ:
            joined = np.concatenate(held)
            whole = count // multiple * multiple
            held = [joined[whole:]]
            yield joined[:whole]
    yield np.concatenate(held)


def _sample(seconds: Fraction) -> int:
    return round(seconds * RATE_HZ)
