"""A file's sound as samples on the file's own clock."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from studio.errors import EvidenceError, MediaError
from studio.ingest.probe import opened
from studio.model.arrays import Array
from studio.model.media import MediaFile


def read_audio(path: Path, media: MediaFile, *, rate_hz: int, channels: int) -> Array:
    """All the sound at once; see `audio_blocks`.

    Returns:
        (N, channels) float32, -1 to 1.

    Raises:
        MediaError: Cannot be read.
        EvidenceError: There is no sound.
    """
    return np.concatenate(list(audio_blocks(path, media, rate_hz=rate_hz, channels=channels)))


def audio_blocks(path: Path, media: MediaFile, *, rate_hz: int, channels: int) -> Iterator[Array]:
    """The sound in small blocks, aligned so that sample 0 is the file's first video frame.

    Sound that starts later is padded with silence, sound that starts earlier is cut; gaps
    between packets become silence and overlaps are dropped, so that nothing drifts.

    Args:
        path: The file.
        media: What `probe` said of it.
        rate_hz: Sample rate wanted.
        channels: 1 or 2.

    Yields:
        (n, channels) float32, -1 to 1.

    Raises:
        MediaError: Cannot be read.
        EvidenceError: There is no sound.
    """
    if media.audio is None:
        raise EvidenceError(f"{path}: has no sound.", "Record it again with the microphone on.")
    origin = media.video.start_s if media.video is not None else media.audio.start_s
    layout = "stereo" if channels == 2 else "mono"
    written = 0
    for frame in _decoded(path, layout, rate_hz):
        for block in _placed(frame, written, origin, rate_hz):
            written += len(block)
            yield block
    if not written:
        raise MediaError(f"{path}: no sound can be decoded.", "Export or record it again.")


def _decoded(path: Path, layout: str, rate_hz: int) -> Iterator[av.AudioFrame]:
    with opened(path) as container:
        stream = container.streams.audio[0]
        resampler = av.AudioResampler(format="fltp", layout=layout, rate=rate_hz)
        for packet in container.demux(stream):
            try:
                frames = packet.decode()
            except av.error.InvalidDataError:
                continue
            for frame in frames:
                yield from _resampled(resampler, frame)
        yield from resampler.resample(None)


def _resampled(resampler: av.AudioResampler, frame: av.AudioFrame) -> list[av.AudioFrame]:
    try:
        return resampler.resample(frame)
    except (ValueError, av.FFmpegError):  # a damaged frame with another layout: pass it over
        return []


def _placed(frame: av.AudioFrame, written: int, origin: Fraction, rate_hz: int) -> Iterator[Array]:
    """A frame at its own time: after silence where there is a gap, cut where it overlaps."""
    samples = frame.to_ndarray().T.astype(np.float32, copy=False)
    due = written
    if frame.pts is not None and frame.time_base is not None:
        due = round((frame.pts * frame.time_base - origin) * rate_hz)
    slack = rate_hz // 125  # jitter below 8 ms is the container's rounding, not a gap
    if due - written > (slack if written else 0):
        gap = due - written
        while gap > 0:  # in pieces, so that a long gap costs no memory
            step = min(gap, rate_hz)
            yield np.zeros((step, samples.shape[1]), np.float32)
            gap -= step
    elif written - due > (slack if written else 0):
        samples = samples[written - due :]
    if len(samples):
        yield samples
