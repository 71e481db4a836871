"""Loudness by ITU-R BS.1770: measured, set in two passes, true peaks kept below a ceiling."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from studio.deliver.assemble import RATE_HZ
from studio.deliver.ffmpeg import run
from studio.model.arrays import Array

SILENCE_LUFS = -70.0
"""The absolute gate of BS.1770: what reads this is silence."""
MOST_GAIN_DB = 30.0
"""More would only lift a room's noise."""
OVERSAMPLE = 4
"""BS.1770 annex 2 asks for at least four times oversampling to see true peaks."""
UNSEEN_DB = 4.0
"""True peaks between samples pass the samples round them by up to 3 dB (a tone at a quarter of the
sample rate, EBU Tech 3341 case 16); music and voices by far less."""
LOOK_S = 0.005
"""The limiter acts this long before and after a peak: no click, no audible pumping on a voice."""
BLOCK_S = 10
ROUNDS = 3
"""The limiter takes loudness away, so the gain is set again; it settles within this many rounds."""
CLOSE_LU = 0.1


@dataclass(frozen=True, slots=True)
class Loudness:
    """Integrated loudness in LUFS (-70 = silence) and true peak in dBTP (-inf = silence)."""

    lufs: float
    peak_db: float


def measure(path: Path, *, channels: int | None = 2, twin: bool = False) -> Loudness:
    """Measure a sound file.

    Args:
        path: Raw 32-bit float, 48 kHz; or, with `channels` None, any media file.
        channels: Of the raw file. One is measured as it will be heard, from two loudspeakers.
        twin: The file's two channels are the same: measuring one of them costs half.

    Raises:
        ToolError: ffmpeg is missing.
        OutputError: It cannot read the file.
    """
    summary = _metered(path, "peak=true:", channels, twin=twin)
    peak = _read(r"\bPeak:\s+(-?[\d.]+|-?inf|nan) dBFS", summary)
    return Loudness(_integrated(summary), peak if math.isfinite(peak) else -math.inf)


def integrated(path: Path, channels: int = 2) -> float:
    """LUFS of a raw file: what `measure` says at a third of its cost, as no peaks are sought."""
    return _integrated(_metered(path, "", channels))


def raw_form(channels: int) -> list[str]:
    """How ffmpeg is told what a raw file holds."""
    return ["-f", "f32le", "-ar", str(RATE_HZ), "-ac", str(channels)]


def _metered(path: Path, peaks: str, channels: int | None, *, twin: bool = False) -> str:
    form = raw_form(channels) if channels else []
    first = "pan=mono|c0=c0," if twin else ""
    meter = f"{first}ebur128={peaks}dualmono=true:framelog=quiet"
    told = run([*form, "-i", str(path), "-map", "0:a:0", "-af", meter, "-f", "null", "-"])
    return told[told.rindex("Summary:") :]


def _integrated(summary: str) -> float:
    level = _read(r"\bI:\s+(-?[\d.]+|-?inf|nan) LUFS", summary)
    return level if math.isfinite(level) else SILENCE_LUFS


def _read(pattern: str, summary: str) -> float:
    found = re.search(pattern, summary)
    return float(found.group(1)) if found else math.nan


def set_loudness(
    source: Path,
    out: Path,
    before_lufs: float,
    *,
    target_lufs: float,
    ceiling_db: float,
    channels: int = 2,
) -> float:
    """Write `source` at the wanted loudness: one gain over all, and a limiter where peaks need it.

    Args:
        source: Raw 32-bit float, 48 kHz.
        out: The same, to be written.
        before_lufs: Integrated loudness of the source.
        target_lufs: LUFS wanted.
        ceiling_db: dBTP not to be passed.
        channels: Of both files.

    Returns:
        The gain in dB. Silence stays silence.
    """
    if before_lufs <= SILENCE_LUFS:
        _apply(source, out, 0.0, ceiling_db, channels)
        return 0.0
    gain_db = min(target_lufs - before_lufs, MOST_GAIN_DB)
    for _ in range(ROUNDS):
        _apply(source, out, gain_db, ceiling_db, channels)
        missing = target_lufs - integrated(out, channels)
        if abs(missing) <= CLOSE_LU or gain_db >= MOST_GAIN_DB:
            break
        gain_db = min(gain_db + missing, MOST_GAIN_DB)
    return gain_db


def limited(samples: Array, ceiling_db: float) -> Array:
    """Samples with true peaks held at a ceiling.

    The gain each moment needs is read off the oversampled signal, held for `LOOK_S` on either side
    and smoothed over the same time, so that it is in place before the peak comes.

    Args:
        samples: (n, channels) float.
        ceiling_db: dBTP.
    """
    from scipy.ndimage import minimum_filter1d, uniform_filter1d
    from scipy.signal import resample_poly

    reach = round(LOOK_S * RATE_HZ)
    peak = np.abs(samples).max(1)
    twin = np.array_equal(samples[:, 0], samples[:, -1])  # a mono voice: one channel tells all
    channels = samples[:, :1] if twin else samples
    loud = _loud(peak, 10 ** ((ceiling_db - UNSEEN_DB) / 20))
    if not loud:
        return samples
    for part in loud:
        fine = resample_poly(channels[part], OVERSAMPLE, 1, axis=0)
        between = np.abs(fine).max(1).reshape(-1, OVERSAMPLE).max(1)
        peak[part] = np.maximum(peak[part], between)
    need = np.minimum(1.0, 10 ** (ceiling_db / 20) / np.maximum(peak, 1e-9))
    held = minimum_filter1d(need, 2 * reach + 1)
    # twice a running mean is a triangle that reaches as far as the hold
    gain = uniform_filter1d(
        uniform_filter1d(held, reach + 1, mode="nearest"), reach + 1, mode="nearest"
    )
    return np.asarray(samples * gain[:, None], np.float32)


def _loud(peak: Array, above: float) -> list[slice]:
    """The stretches whose true peaks need a close look, with a little context each."""
    width = RATE_HZ // 50
    count = -(-len(peak) // width)
    padded = np.pad(peak, (0, count * width - len(peak)))
    flags = padded.reshape(count, width).max(1) > above
    flags[1:] |= flags[:-1].copy()
    flags[:-1] |= flags[1:].copy()
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [slice(int(a) * width, int(b) * width) for a, b in edges.reshape(-1, 2)]


def _apply(source: Path, out: Path, gain_db: float, ceiling_db: float, channels: int) -> None:
    factor = np.float32(10 ** (gain_db / 20))
    with out.open("wb") as file:
        for core, block in _blocks(source, RATE_HZ // 10, channels):
            louder = limited(block * factor, ceiling_db)
            file.write(np.ascontiguousarray(louder[core], "<f4").tobytes())


def _blocks(source: Path, margin: int, channels: int) -> Iterator[tuple[slice, Array]]:
    """Blocks of a raw file with `margin` samples of context on both sides, and their own part."""
    total = source.stat().st_size // (4 * channels)
    step = BLOCK_S * RATE_HZ
    for first in range(0, total, step):
        a, b = max(0, first - margin), min(total, first + step + margin)
        block = np.fromfile(source, "<f4", (b - a) * channels, offset=a * 4 * channels)
        yield slice(first - a, min(first + step, total) - a), block.reshape(-1, channels)
