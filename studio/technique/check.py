"""Is a clip good enough to review? With a short note to send back to the athlete."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from studio.config import Settings
from studio.errors import LaunchsideError
from studio.model.media import MediaFile
from studio.model.pose import LANDMARKS, PoseTrack
from studio.model.technique import Technique
from studio.technique.body import LEAST_SCORE, inside, near_mark
from studio.technique.speed import declared_factor
from studio.technique.view import SQUARE_DEG

LEAST_FPS = 24.0
"""Below this an event is off by up to 21 ms and a drive by 2 %: too coarse to time."""
LEAST_STROKES = 3
SEEN_SHARE = 0.9
"""A point out of the picture for more than a tenth of the clip is missing at some turn."""
SHAKE_SHARE = 0.01
"""Movement from frame to frame, of the picture's width, that a viewer calls shaky."""
LEAST_PX = 120
"""An athlete whose body is lower than this in the picture is too small to be measured well: there
one pixel of a mark is a degree of the trunk."""


@dataclass(frozen=True, slots=True)
class Point:
    """One thing looked at: name, whether it is right, what was seen, and what to change."""

    name: str
    good: bool
    seen: str
    change: str = ""


@dataclass(frozen=True, slots=True)
class Check:
    """The verdict.

    Attributes:
        fit: Good enough to review.
        points: Everything that was looked at.
        note: To send back to the athlete.
    """

    fit: bool
    points: tuple[Point, ...]
    note: str


def check(
    clip: MediaFile, pose: PoseTrack, technique: Technique | LaunchsideError, settings: Settings
) -> Check:
    """Look at a clip the way a coach does before starting a review.

    Args:
        clip: What `probe` said of it.
        pose: Its pose track.
        technique: Result of `analyse`, or the error that it raised.
        settings: Alias and captured frame rate.
    """
    if isinstance(technique, Technique):
        side = "right" if technique.body.facing == "right" else "left"
        points = (
            _person(pose),
            *_in_frame(pose, side),
            _size(pose),
            _square(technique),
            _steady(pose),
            _frame_rate(clip, settings),
            _strokes(technique),
        )
    else:
        seen = np.isfinite(pose.xy_px).any()
        what = technique.message.removeprefix(f"{clip.path}: ")  # the athlete has another path
        trouble = Point("strokes" if seen else "athlete", False, what.rstrip("."), technique.hint)
        points = (trouble, _frame_rate(clip, settings))
    fit = all(p.good for p in points)
    return Check(fit, points, _note(points, settings.athlete.alias))


def _person(pose: PoseTrack) -> Point:
    share = float(np.isfinite(pose.xy_px).any(axis=(1, 2)).mean())
    return Point(
        "athlete",
        share >= SEEN_SHARE,
        f"you are seen in {share:.0%} of the frames",
        "Keep yourself in the picture all the way through.",
    )


def _in_frame(pose: PoseTrack, side: str) -> tuple[Point, ...]:
    """Whole body, then handle: how much of the clip each is in the picture."""
    body = [_shown(pose, side, name) for name in ("shoulder", "hip", "knee", "ankle")]
    worst = min(body)
    hands = _shown(pose, side, "wrist")
    return (
        Point(
            "whole body",
            worst >= SEEN_SHARE,
            f"head to feet in the picture for {worst:.0%} of the clip",
            "Step back until head, seat and feet stay in the picture through the whole stroke.",
        ),
        Point(
            "handle",
            hands >= SEEN_SHARE,
            f"the handle in the picture for {hands:.0%} of the clip",
            "Turn or move the camera so that your hands stay in the picture at the catch and the"
            " finish.",
        ),
    )


def _shown(pose: PoseTrack, side: str, name: str) -> float:
    raw, score = near_mark(pose, side, name)
    return float((inside(raw, pose) & (score >= LEAST_SCORE)).mean())


def _size(pose: PoseTrack) -> Point:
    columns = [LANDMARKS.index(f"{s}_{j}") for s in ("left", "right")
               for j in ("ear", "shoulder", "hip", "ankle")]  # fmt: skip
    y = pose.xy_px[:, columns, 1]
    seen = np.isfinite(y).all(axis=1)
    tall = float(np.median(np.ptp(y[seen], axis=1))) if seen.any() else 0.0
    return Point(
        "size",
        tall >= LEAST_PX,
        f"you are about {tall:.0f} pixels tall in the picture",
        "Come closer, or zoom in, until you fill about half of the picture's height.",
    )


def _square(technique: Technique) -> Point:
    yaw = technique.view.yaw_deg
    return Point(
        "side on",
        technique.view.square,
        "the camera's angle cannot be told"
        if yaw is None
        else f"the camera stands about {abs(yaw):.0f} degrees off square"
        if abs(yaw) > SQUARE_DEG
        else "filmed from the side",
        "Put the camera straight to your side, level with your hip, three to four metres away.",
    )


def _steady(pose: PoseTrack) -> Point:
    middle = np.array([pose.width_px / 2, pose.height_px / 2])
    at = np.einsum("tij,j->ti", pose.camera_px[:, :, :2], middle) + pose.camera_px[:, :, 2]
    moves = np.linalg.norm(np.diff(at, axis=0), axis=1) if len(at) > 1 else np.zeros(1)
    share = float(np.percentile(moves, 90)) / pose.width_px
    return Point(
        "steady",
        share <= SHAKE_SHARE,
        "the camera stands still" if share < SHAKE_SHARE / 4 else "the camera moves in the hand",
        "Lean the phone on something or use a stand.",
    )


def _frame_rate(clip: MediaFile, settings: Settings) -> Point:
    rate = float(clip.video.frame_rate) if clip.video else 0.0
    captured = rate * (declared_factor(clip, settings) or 1.0)
    return Point(
        "frame rate",
        captured >= LEAST_FPS - 0.1,
        f"{captured:.0f} frames a second",
        "Film at 30 frames a second or more; 60 is better.",
    )


def _strokes(technique: Technique) -> Point:
    whole = sum(s.catch_s is not None and s.finish_s is not None for s in technique.strokes)
    return Point(
        "strokes",
        whole >= LEAST_STROKES,
        f"{whole} whole stroke{'' if whole == 1 else 's'}",
        "Film at least five strokes, so that three whole ones are left.",
    )


def _note(points: tuple[Point, ...], alias: str) -> str:
    hello = f"Hi {alias}," if alias else "Hi,"
    wrong = [p for p in points if not p.good]
    if not wrong:
        return f"{hello} thank you, your clip is just right for a review. Keep filming like that!"
    seen = "; ".join(p.seen for p in wrong)
    changes = " ".join(p.change for p in wrong if p.change)
    return (
        f"{hello} thank you for the clip. One more take would let me see your rowing properly:"
        f" {seen}. {changes} That is all, and I look forward to it!"
    )
