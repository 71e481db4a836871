"""Everything read off the clip, from its pose track: pure and quick."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from studio.config import Corrections, Settings
from studio.errors import EvidenceError
from studio.model.arrays import Array
from studio.model.media import MediaFile
from studio.model.pose import PoseTrack
from studio.model.technique import BodyTrack, Stroke, Technique, View
from studio.technique.body import body_track, facing, levelled
from studio.technique.events import with_events
from studio.technique.findings import find
from studio.technique.measures import Context, take_measures
from studio.technique.speed import declared_factor, suspects_slow_motion
from studio.technique.strokes import closing_cycle, find_strokes, reach
from studio.technique.view import LIMIT_DEG, camera_view, correctable_yaw

SLOW_NOTICE = (
    "Slower than any rowing: this looks like slow motion. Give the frame rate it was captured at"
    " (captured_fps under [clip] in episode.toml, or --captured-fps) to get seconds and stroke"
    " rate; angles and ratios hold as they are."
)


def analyse(
    pose: PoseTrack, clip: MediaFile, settings: Settings, corrections: Corrections
) -> Technique:
    """Strokes, measures and findings of a clip.

    Args:
        pose: From `track_pose`.
        clip: What `probe` said of the clip.
        settings: `clip.captured_fps`, `athlete` and `ranges` are read.
        corrections: `events`, `wrong_strokes`, `added_strokes`, `joints` and `findings` are
            applied.

    Raises:
        EvidenceError: Nobody rows in the clip, or no stroke can be seen.
    """
    try:
        return _analyse(pose, clip, settings, corrections)
    except EvidenceError as error:
        raise EvidenceError(f"{clip.path}: {error.message}", error.hint) from error


def _analyse(
    pose: PoseTrack, clip: MediaFile, settings: Settings, corrections: Corrections
) -> Technique:
    factor = declared_factor(clip, settings)
    view = camera_view(pose, facing(pose))
    body, level = _bodies(pose, view, factor or 1.0, corrections)
    strokes = find_strokes(level, corrections)
    notices = list(view.warnings)
    if factor is None and suspects_slow_motion(strokes):
        notices.append(SLOW_NOTICE)
        body, level = _bodies(pose, view, _likely_factor(strokes), corrections)
    elif factor is None:
        factor = 1.0
    if abs(view.yaw_deg or 0.0) > LIMIT_DEG:
        body, level = (replace(b, angles_deg=_unknown(b)) for b in (body, level))
    strokes = tuple(with_events(stroke, level) for stroke in strokes)
    whole = any(s.catch_s is not None and s.next_catch_s is not None for s in strokes)
    context = Context(
        time_factor=factor,
        height_cm=settings.athlete.height_cm,
        trunk_px=trunk_px(body.points_px),
        pose=pose,
        cycle_s=None if whole else closing_cycle(level.time_s, reach(level)),
    )
    measures = take_measures(strokes, level, view, context)
    technique = Technique(factor, view, body, strokes, measures, (), tuple(notices))
    rejected = {f.code for f in corrections.findings if f.verdict == "reject"}
    findings, further = find(technique, settings, rejected)
    return replace(technique, findings=findings, further=further)


def _bodies(
    pose: PoseTrack, view: View, factor: float, corrections: Corrections
) -> tuple[BodyTrack, BodyTrack]:
    """The athlete as drawn, and with the points as a still and level camera sees them."""
    roll = view.roll_deg
    body = body_track(pose, factor, yaw_deg=correctable_yaw(view), roll_deg=roll,
                      moved=corrections.joints)  # fmt: skip
    return body, replace(body, points_px=levelled(body.points_px, pose, roll))


def _unknown(body: BodyTrack) -> dict[str, Array]:
    return {name: np.full_like(angle, np.nan) for name, angle in body.angles_deg.items()}


def trunk_px(points_px: dict[str, Array]) -> float:
    """Hip to shoulder, the clip's yardstick: the median over the clip."""
    length = np.linalg.norm(points_px["shoulder"] - points_px["hip"], axis=1)
    return float(np.nanmedian(length)) if np.isfinite(length).any() else float("nan")


def _likely_factor(strokes: tuple[Stroke, ...]) -> float:
    """How much a clip of unknown speed is slowed, near enough to choose a smoothing by.

    As if the usual drive took one second (Kleshnev 2021: 0.9 to 1.2 s).
    """
    drives = [s.finish_s - s.catch_s for s in strokes
              if s.catch_s is not None and s.finish_s is not None]  # fmt: skip
    return max(1.0, float(np.median(drives))) if drives else 1.0
