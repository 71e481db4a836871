"""A file to a `MediaFile`: streams, exact rates, and what is odd about it in plain words."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import av.container
import av.stream
import numpy as np

from studio.errors import MediaError
from studio.model.arrays import Array
from studio.model.media import AudioStream, MediaFile, VideoStream
from studio.store import digest_file

_TRANSFER = {16: "pq", 18: "hlg"}  # ITU-T H.273 table 3: 16 SMPTE ST 2084, 18 ARIB STD-B67
_CAPTURE_TAGS = ("com.android.capture.fps", "com.apple.quicktime.full-frame-rate-playback-intent")


_FORMATS = (
    "mov,matroska,avi,mpegts,mpeg,ogg,asf,flv,gif,mxf,ivf,h264,hevc,obu,wav,w64,mp3,flac,aac,aiff,"
    "caf,amr,png_pipe,jpeg_pipe,webp_pipe,bmp_pipe,tiff_pipe,image2"
)
"""Containers that hold their content themselves; none that names other files or addresses."""
MAX_PIXELS = 8192 * 8192
"""Of one picture; a larger one is no video, and would take gigabytes to unpack."""
_LOST_S = Fraction(1, 2)
"""A file that ends this much before its own header says so breaks off."""
BREAKS_OFF = "The file breaks off"
"""How the notice of such a file begins."""


def written_plainly(path: Path) -> None:
    """Refuse a name that is no text, which no settings file could hold. Raises: MediaError."""
    try:
        str(path).encode()
    except UnicodeEncodeError as error:
        plain = os.fsencode(path).decode("utf-8", "backslashreplace")
        raise MediaError(f"{plain}: the name is not UTF-8 text.", "Rename the file.") from error


@contextmanager
def opened(path: Path) -> Iterator[av.container.InputContainer]:
    """Open a media file for reading.

    Raises:
        MediaError: Missing, a folder, not permitted, empty, or no media; also for trouble while
            it is being read inside the block.
    """
    written_plainly(path)
    if not (path.exists() or path.is_symlink()):
        raise MediaError(f"{path}: there is no such file.", "Check the name and the folder.")
    if not path.is_file():
        raise MediaError(f"{path}: not a file.", "Name a video file.")
    try:
        # "file:" keeps odd names (leading dash, colons) from being read as options or protocols
        with av.open(
            f"file:{path}",
            options={"format_whitelist": _FORMATS, "protocol_whitelist": "file"},
            metadata_errors="replace",
        ) as container:
            yield container
    except PermissionError as error:
        raise MediaError(f"{path}: you may not read it.", "Change its permissions.") from error
    except (av.FFmpegError, OSError, ValueError) as error:
        raise MediaError(
            f"{path}: cannot be read as a video ({_reason(error)}).",
            "Play it in a video player; if that fails too, export or send it again.",
        ) from error


def _reason(error: Exception) -> str:
    return str(getattr(error, "strerror", None) or error).strip().rstrip(".")


def picture_stream(container: av.container.InputContainer) -> av.VideoStream | None:
    """The first picture track that is not just a cover image."""
    cover = av.stream.Disposition.attached_pic
    return next((s for s in container.streams.video if not s.disposition & cover), None)


def probe(path: Path, *, need_video: bool = True) -> MediaFile:
    """Look at a media file without decoding all of it.

    Args:
        path: The file.
        need_video: Refuse a file that holds no picture.

    Raises:
        MediaError: Cannot be read, holds neither picture nor sound, or no picture where needed.
    """
    with opened(path) as container:
        video_stream = picture_stream(container)
        audio_stream = container.streams.audio[0] if container.streams.audio else None
        _refuse_pictureless(path, container, video_stream, need_video or audio_stream is None)
        times = _packet_times(container, video_stream, audio_stream)
        video = _video(path, container, video_stream, times) if video_stream else None
        audio = _audio(audio_stream, times) if audio_stream and _has(times, audio_stream) else None
        ends = [
            _end(times, s) for s in (video_stream, audio_stream) if s is not None and _has(times, s)
        ]
        lost = _lost(container, video_stream, ends)
    if video is None and (need_video or audio is None):
        raise MediaError(f"{path}: holds no picture.", "Name a video file.")
    starts = [s.start_s for s in (video, audio) if s is not None]
    duration = max(ends) - min(starts)
    notices = (*lost, *_notices(video, audio))
    return MediaFile(str(path), digest_file(path), duration, video, audio, notices)


def _refuse_pictureless(
    path: Path,
    container: av.container.InputContainer,
    stream: av.VideoStream | None,
    needed: bool,
) -> None:
    if stream is None:
        if needed:
            raise MediaError(f"{path}: holds no picture.", "Name a video file.")
        return
    if container.format.name.endswith("_pipe") or container.format.name == "image2":
        raise MediaError(f"{path}: holds a single picture.", "Name a video file.")
    if stream.codec_context is None:
        raise MediaError(f"{path}: its picture is of an unknown kind.", "Export it as H.264.")
    width, height = stream.codec_context.width, stream.codec_context.height
    if width * height > MAX_PIXELS:
        raise MediaError(
            f"{path}: its picture is too large ({width} by {height}).", "Export it smaller."
        )


def _lost(
    container: av.container.InputContainer, stream: av.VideoStream | None, ends: list[Fraction]
) -> tuple[str, ...]:
    """A sentence where the packets end long before the header says."""
    if stream is not None and stream.duration and stream.time_base:
        promised = (stream.duration + (stream.start_time or 0)) * stream.time_base
        found = ends[0]
    else:
        start = container.start_time or 0
        promised = Fraction((container.duration or 0) + start, av.time_base)
        found = max(ends)
    missing = promised - found
    if missing < _LOST_S:
        return ()
    return (f"{BREAKS_OFF}: the last {_trim(float(missing))} s of it are missing.",)


_Times = dict[int, tuple[list[int], list[int]]]


def _packet_times(container: av.container.InputContainer, *streams: object) -> _Times:
    """Pts and durations, in ticks, of every packet of the streams."""
    wanted = [s for s in streams if s is not None]
    times: _Times = {s.index: ([], []) for s in wanted}  # type: ignore[attr-defined]
    for packet in container.demux(wanted):
        if packet.pts is not None and packet.size and not packet.is_discard:
            times[packet.stream.index][0].append(packet.pts)
            times[packet.stream.index][1].append(packet.duration or 0)
    return times


def _has(times: _Times, stream: object) -> bool:
    return bool(times[stream.index][0])  # type: ignore[attr-defined]


def _end(times: _Times, stream: object) -> Fraction:
    pts, durations = times[stream.index]  # type: ignore[attr-defined]
    last = int(np.argmax(pts))
    base: Fraction = stream.time_base  # type: ignore[attr-defined]
    return (pts[last] + durations[last]) * base


def _video(
    path: Path, container: av.container.InputContainer, stream: av.VideoStream, times: _Times
) -> VideoStream | None:
    if not _has(times, stream):
        raise MediaError(f"{path}: its picture track is empty.", "Export or send it again.")
    pts = np.sort(np.array(times[stream.index][0], dtype=np.int64))
    container.seek(0)
    frame = next(iter(container.decode(stream)), None)
    if frame is None:
        raise MediaError(f"{path}: no frame can be decoded.", "Export or send it again.")
    time_base = stream.time_base
    if time_base is None:
        raise MediaError(f"{path}: its picture track has no clock.", "Export or send it again.")
    aspect = stream.sample_aspect_ratio or Fraction(1)
    rotation, mirrored = _turn(frame)
    width, height = display_size(frame.width, frame.height, aspect, rotation)
    span = Fraction(int(pts[-1] - pts[0])) * time_base
    rate = Fraction(len(pts) - 1) / span if span else Fraction(stream.average_rate or 1)
    return VideoStream(
        width_px=width,
        height_px=height,
        rotation_deg=rotation,
        frame_rate=_standard_rate(rate, stream.average_rate),
        time_base=time_base,
        start_s=Fraction(int(pts[0])) * time_base,
        frame_count=len(pts),
        variable_rate=_varies(pts),
        pixel_aspect=aspect,
        codec=stream.codec_context.name,
        pixel_format=frame.format.name,
        transfer=_TRANSFER.get(int(frame.color_trc or 0), "sdr"),
        capture_rate=_capture_rate(container, stream),
        mirrored=mirrored,
    )


def _turn(frame: av.VideoFrame) -> tuple[int, bool]:
    """Clockwise turn to the nearest right angle, and whether a left-right swap follows it.

    The display matrix maps a stored point (x, y) to (a x + c y, b x + d y), y down (ISO/IEC
    14496-12, 8.3.2); a negative determinant swaps the sides.
    """
    data: Any = frame.side_data.get("DISPLAYMATRIX")
    if data is None:
        return 0, False
    a, b, _, c, d = (int(value) for value in np.frombuffer(data, np.int32)[:5])
    mirrored = a * d - b * c < 0
    angle = math.degrees(math.atan2(b, -a if mirrored else a))
    return round(angle / 90) * 90 % 360, mirrored


def display_size(width: int, height: int, aspect: Fraction, rotation: int) -> tuple[int, int]:
    """Size on a screen of square pixels, after rotation; always even, as encoders need it."""
    w, h = (round(width * aspect), height) if aspect >= 1 else (width, round(height / aspect))
    w, h = (h, w) if rotation in (90, 270) else (w, h)
    return w - w % 2 or 2, h - h % 2 or 2


def _standard_rate(rate: Fraction, average: Fraction | None) -> Fraction:
    """The container's own average where it agrees with the packets to 0.1 %, else the packets'."""
    if average and abs(float(average / rate) - 1) < 1e-3:
        return Fraction(average)
    return rate.limit_denominator(1001)


def _varies(pts: Array) -> bool:
    steps = np.diff(pts)
    if len(steps) < 2:
        return False
    # a constant rate in a coarse time base alternates between two neighbouring tick counts
    return bool(steps.max() - steps.min() > max(1, 0.02 * float(np.median(steps))))


def _capture_rate(
    container: av.container.InputContainer, stream: av.VideoStream
) -> Fraction | None:
    tags = {**container.metadata, **stream.metadata}
    for name in _CAPTURE_TAGS:
        try:
            value = Fraction(tags[name]).limit_denominator(1001)
        except (KeyError, ValueError, ZeroDivisionError):
            continue
        if value > 1:
            return value
    return None


def _audio(stream: av.AudioStream, times: _Times) -> AudioStream:
    pts = times[stream.index][0]
    start = Fraction(min(pts)) * (stream.time_base or Fraction(1))
    return AudioStream(
        sample_rate_hz=stream.rate,
        channels=stream.channels,
        start_s=max(start, Fraction(0)),
        duration_s=_end(times, stream) - start,
        codec=stream.codec_context.name,
    )


def _notices(video: VideoStream | None, audio: AudioStream | None) -> tuple[str, ...]:
    told = _picture_notices(video) if video is not None else []
    if audio is None:
        told.append("There is no sound.")
    elif audio.start_s > Fraction(1, 20):
        told.append(f"The sound starts {_trim(float(audio.start_s))} s after the beginning.")
    return tuple(told)


def _picture_notices(video: VideoStream) -> list[str]:
    told = []
    if video.variable_rate:
        told.append("The frame rate varies; every time is taken from the frames themselves.")
    if video.rotation_deg:
        told.append(f"Stored on its side; turned by {video.rotation_deg} degrees for display.")
    if video.mirrored:
        told.append("Stored mirrored; swapped left for right for display.")
    if video.transfer != "sdr":
        told.append(f"High dynamic range ({video.transfer.upper()}); mapped to ordinary range.")
    if video.pixel_aspect != 1:
        told.append("The pixels are not square; the picture is stretched to its true shape.")
    fast = video.capture_rate and video.capture_rate > video.frame_rate * Fraction(11, 10)
    if fast and video.capture_rate:
        factor = float(video.capture_rate / video.frame_rate)
        told.append(f"Slow motion: played {_trim(factor)} times slower than it was filmed.")
    elif video.frame_rate > 100:
        told.append(f"Filmed at {_trim(float(video.frame_rate))} frames a second.")
    return told


def _trim(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") if math.isfinite(value) else "?"
