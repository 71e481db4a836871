"""A file's sound as samples on the file's own clock."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from studio.errors import EvidenceError, MediaError
from studio.ingest.probe import opened
from studio.model.arrays import Array
from studio.model.media import MediaFile


def read_audio(path: Path, media: MediaFile, *, rate_hz: int, channels: int) -> Array:
    """All the sound, aligned so that sample 0 is the file's first video frame.

    Sound that starts later is padded with silence, sound that starts earlier is cut; gaps
    between packets become silence, so that nothing drifts.

    Args:
        path: The file.
        media: What `probe` said of it.
        rate_hz: Sample rate wanted.
        channels: 1 or 2.

    Returns:
        (N, channels) float32, -1 to 1.

    Raises:
        MediaError: Cannot be read.
        EvidenceError: There is no sound.
    """
    if media.audio is None:
        raise EvidenceError(f"{path}: has no sound.", "Record it again with the microphone on.")
    origin = media.video.start_s if media.video is not None else media.audio.start_s
    layout = "stereo" if channels == 2 else "mono"
    pieces: list[Array] = []
    written = 0
    with opened(path) as container:
        stream = container.streams.audio[0]
        resampler = av.AudioResampler(format="fltp", layout=layout, rate=rate_hz)
        for packet in container.demux(stream):
            try:
                frames = packet.decode()
            except av.error.InvalidDataError:
                continue
            for frame in frames:
                for out in _resampled(resampler, frame):
                    written += _place(pieces, out, written, origin, rate_hz)
        for out in resampler.resample(None):
            written += _place(pieces, out, written, origin, rate_hz)
    if not pieces:
        raise MediaError(f"{path}: no sound can be decoded.", "Export or record it again.")
    return np.concatenate(pieces)


def _resampled(resampler: av.AudioResampler, frame: av.AudioFrame) -> list[av.AudioFrame]:
    try:
        return resampler.resample(frame)
    except (ValueError, av.FFmpegError):  # a damaged frame with another layout: pass it over
        return []


def _place(
    pieces: list[Array], frame: av.AudioFrame, written: int, origin: Fraction, rate_hz: int
) -> int:
    """Append a frame at its own time; returns how many samples were added."""
    samples = frame.to_ndarray().T.astype(np.float32, copy=False)
    due = written
    if frame.pts is not None and frame.time_base is not None:
        due = round((frame.pts * frame.time_base - origin) * rate_hz)
    added = 0
    slack = rate_hz // 50  # jitter below 20 ms is the container's rounding, not a gap
    if due - written > (slack if written else 0):
        gap = np.zeros((due - written, samples.shape[1]), np.float32)
        pieces.append(gap)
        added += len(gap)
    elif written == 0 and due < 0:
        samples = samples[-due:]
    pieces.append(samples)
    return added + len(samples)
