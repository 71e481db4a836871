"""How much a clip is slowed: declared, tagged in the file, or suspected."""

from __future__ import annotations

from studio.config import Settings
from studio.model.media import MediaFile
from studio.model.technique import Stroke

SLOWEST_SPM = 12.0
"""Nobody rows slower for long: steady work lies at 18-24."""
SLOWEST_DRIVE_S = 2.0
"""A drive at 12 spm takes 1.3 s by Kleshnev's line (2021); half as much again is none."""


def declared_factor(clip: MediaFile, settings: Settings) -> float | None:
    """Clip seconds per real second as the coach or the file says; None = nobody says."""
    video = clip.video
    if video is None:
        return None
    captured = settings.clip.captured_fps or float(video.capture_rate or 0)
    return captured / float(video.frame_rate) if captured else None


def suspects_slow_motion(strokes: tuple[Stroke, ...]) -> bool:
    """Whether the strokes, taken as real time, are slower than anybody rows."""
    cycles = [s.next_catch_s - s.catch_s for s in strokes
              if s.catch_s is not None and s.next_catch_s is not None]  # fmt: skip
    drives = [s.finish_s - s.catch_s for s in strokes
              if s.catch_s is not None and s.finish_s is not None]  # fmt: skip
    if cycles:
        return 60 / _middle(cycles) < SLOWEST_SPM
    return bool(drives) and _middle(drives) > SLOWEST_DRIVE_S


def _middle(values: list[float]) -> float:
    return sorted(values)[len(values) // 2]
