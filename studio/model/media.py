"""What a media file is, as far as Launchside needs to know."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class VideoStream:
    """The picture of a file.

    Attributes:
        width_px: As displayed: after rotation, with square pixels.
        height_px: As displayed.
        rotation_deg: Clockwise turn that display needs: 0, 90, 180 or 270 (already in the sizes).
        frame_rate: Average, 1/s; exact, never rounded.
        time_base: Seconds per tick of a pts.
        start_s: pts of the first frame, on the file's own clock.
        frame_count: As counted from the packets.
        variable_rate: Frame intervals differ by more than the tick rounding explains.
        pixel_aspect: Width of a stored pixel over its height.
        codec: Its usual short name, e.g. "h264".
        pixel_format: e.g. "yuv420p".
        transfer: "sdr", "hlg" or "pq".
        capture_rate: Frames per second at capture where the file says so (slow motion), else None.
        mirrored: Display needs the picture swapped left for right, after the turn.
    """

    width_px: int
    height_px: int
    rotation_deg: int
    frame_rate: Fraction
    time_base: Fraction
    start_s: Fraction
    frame_count: int
    variable_rate: bool
    pixel_aspect: Fraction
    codec: str
    pixel_format: str
    transfer: str
    capture_rate: Fraction | None
    mirrored: bool = False


@dataclass(frozen=True, slots=True)
class AudioStream:
    """The sound of a file; `start_s` is on the same clock as the picture's."""

    sample_rate_hz: int
    channels: int
    start_s: Fraction
    duration_s: Fraction
    codec: str


@dataclass(frozen=True, slots=True)
class MediaFile:
    """One file and what was found in it.

    Attributes:
        path: As the coach gave it.
        digest: xxh3-128 of the content, hex.
        duration_s: Of the longest stream, from the first presented moment.
        video: None where there is no picture.
        audio: None where there is no sound.
        notices: What is odd about the file, each a plain sentence.
    """

    path: str
    digest: str
    duration_s: Fraction
    video: VideoStream | None
    audio: AudioStream | None
    notices: tuple[str, ...]
