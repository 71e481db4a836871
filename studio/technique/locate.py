"""Which of the people in the clip rows, and where in the picture that happens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from studio.model.arrays import Array
from studio.model.pose import LANDMARKS
from studio.technique.backend import Person, PoseEstimator, Seen

_MARGIN = 1.25
"""The room kept about the athlete, in body circles: the handle reaches beyond the body's own."""
_SAME = 0.6
"""Two sightings within this share of the body circle are the same person; the seat of a rower
moves through less than that between its two ends about its middle."""


@dataclass(frozen=True, slots=True)
class Crop:
    """A part of the picture, pixels; `x1` and `y1` exclusive."""

    x0: int
    y0: int
    x1: int
    y1: int


def find_athlete(pictures: Sequence[Array], estimator: PoseEstimator) -> Crop | None:
    """The part of the picture in which the athlete rows; None = nobody is found.

    Args:
        pictures: Some (H, W, 3) uint8 RGB pictures spread over the clip.
        estimator: Left forgetful: the next picture starts afresh.

    People are told apart by place. A rower sits: hips and ankles are far apart sideways and near in
    height, while a bystander's are below one another. Among those who sit, the largest rows for
    this camera.
    """
    sightings = [
        (i, one) for i, picture in enumerate(pictures) for one in estimator.people(picture)
    ]
    groups = _by_place(sightings)
    if not groups:
        return None
    best = groups[0]
    if len(groups) > 1:
        best = max(groups, key=lambda group: _rower_score(group, pictures, estimator))
    height, width = pictures[0].shape[:2]
    return _around([one for _, one in best], width, height)


def _by_place(sightings: list[tuple[int, Person]]) -> list[list[tuple[int, Person]]]:
    groups: list[list[tuple[int, Person]]] = []
    for i, one in sightings:
        for group in groups:
            middle = np.median([p.hip_px for _, p in group], axis=0)
            size = np.median([p.radius_px for _, p in group])
            alike = 0.6 < one.radius_px / size < 1.7
            if alike and np.linalg.norm(one.hip_px - middle) < _SAME * size:
                group.append((i, one))
                break
        else:
            groups.append([(i, one)])
    return groups


def _rower_score(
    group: list[tuple[int, Person]], pictures: Sequence[Array], estimator: PoseEstimator
) -> float:
    size = float(np.median([p.radius_px for _, p in group]))
    shown = len({i for i, _ in group}) / len(pictures)
    votes = []
    for i, one in group[:: max(1, len(group) // 3)][:3]:
        height, width = pictures[i].shape[:2]
        crop = _around([one], width, height)
        estimator.forget()
        seen = estimator.follow(pictures[i][crop.y0 : crop.y1, crop.x0 : crop.x1])
        if seen is not None:
            votes.append(_sits(seen))
    estimator.forget()
    seated = float(np.mean(votes)) if votes else 0.0
    return (0.1 + seated) * shown * size


def _sits(seen: Seen) -> bool:
    at = {name: seen.xy_px[LANDMARKS.index(name)] for name in
          ("left_hip", "right_hip", "left_ankle", "right_ankle")}  # fmt: skip
    legs = (at["left_ankle"] + at["right_ankle"] - at["left_hip"] - at["right_hip"]) / 2
    return bool(abs(legs[1]) < 1.2 * abs(legs[0]))


def _around(people: list[Person], width: int, height: int) -> Crop:
    """All body circles and some room, clipped to the picture."""
    x = np.array([p.hip_px[0] for p in people])
    y = np.array([p.hip_px[1] for p in people])
    r = float(np.median([p.radius_px for p in people])) * _MARGIN
    x0, x1 = np.min(x) - r, np.max(x) + r
    y0, y1 = np.min(y) - r, np.max(y) + r
    return Crop(int(max(0, x0)), int(max(0, y0)), int(min(width, x1)), int(min(height, y1)))
