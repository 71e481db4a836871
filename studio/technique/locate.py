"""Which of the people in the clip rows, and where in the picture that happens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from studio.model.arrays import Array
from studio.model.pose import LANDMARKS
from studio.technique.backend import Person, PoseEstimator, Seen

_MARGIN = 1.25
"""The room kept about the athlete, in body circles: the handle reaches beyond the body's own."""
LEAST_ALIKE, MOST_ALIKE = 0.6, 1.7
"""One person's body circle in different pictures, over what it usually is."""
SEATED = 0.5
"""Who sits in half the pictures looked at rows; who does not, stands or walks."""
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

    def of(self, image: Array) -> Array:
        """This part of an (H, W, 3) picture, in memory of its own."""
        return np.ascontiguousarray(image[self.y0 : self.y1, self.x0 : self.x1])


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
    best, seated = _largest_seated(sightings, pictures, estimator)
    if seated < SEATED:
        sightings += [(i, one) for i, picture in enumerate(pictures)
                      for one in _closer(picture, estimator)]  # fmt: skip
        best, _ = _largest_seated(sightings, pictures, estimator)
    if not best:
        return None
    height, width = pictures[0].shape[:2]
    everywhere = best + _elsewhere(best, sightings, pictures, estimator)
    return _around([one for _, one in everywhere], width, height)


def _elsewhere(
    best: list[tuple[int, Person]],
    sightings: list[tuple[int, Person]],
    pictures: Sequence[Array],
    estimator: PoseEstimator,
) -> list[tuple[int, Person]]:
    """Where the athlete is while the camera looks another way.

    Somebody as large, who sits too, and is never in a picture together with the athlete.
    """
    size = float(np.median([p.radius_px for _, p in best]))
    shown = {i for i, _ in best}
    found: list[tuple[int, Person]] = []
    for group in _by_place([(i, one) for i, one in sightings if i not in shown]):
        alike = float(np.median([p.radius_px for _, p in group])) / size
        if LEAST_ALIKE < alike < MOST_ALIKE and _seated_share(group, pictures, estimator) >= SEATED:
            found += group
    return found


def _largest_seated(
    sightings: list[tuple[int, Person]], pictures: Sequence[Array], estimator: PoseEstimator
) -> tuple[list[tuple[int, Person]], float]:
    """All sightings of whoever most likely rows, and the share (0-1) of them in which they sit."""
    best: list[tuple[int, Person]] = []
    most = seated = 0.0
    for group in _by_place(sightings):
        size = float(np.median([p.radius_px for _, p in group]))
        shown = len({i for i, _ in group}) / len(pictures)
        sits = _seated_share(group, pictures, estimator)
        if (0.1 + sits) * shown * size > most:
            best, most, seated = group, (0.1 + sits) * shown * size, sits
    return best, seated


def _closer(picture: Array, estimator: PoseEstimator) -> list[Person]:
    """People too small to be found in the whole picture: looked for in quarters that overlap.

    The detector sees every picture at 224 x 224 (Bazarevsky et al. 2020), an athlete of an eighth
    of its width at 28.
    """
    height, width = picture.shape[:2]
    found = []
    for y0 in (0, height // 4, height // 2):
        for x0 in (0, width // 4, width // 2):
            part = Crop(x0, y0, x0 + width // 2, y0 + height // 2)
            found += [replace(one, hip_px=one.hip_px + np.array([x0, y0]))
                      for one in estimator.people(part.of(picture))]  # fmt: skip
    return found


def _by_place(sightings: list[tuple[int, Person]]) -> list[list[tuple[int, Person]]]:
    groups: list[list[tuple[int, Person]]] = []
    for i, one in sightings:
        for group in groups:
            middle = np.median([p.hip_px for _, p in group], axis=0)
            size = np.median([p.radius_px for _, p in group])
            alike = LEAST_ALIKE < one.radius_px / size < MOST_ALIKE
            if alike and np.linalg.norm(one.hip_px - middle) < _SAME * size:
                group.append((i, one))
                break
        else:
            groups.append([(i, one)])
    return groups


def _seated_share(
    group: list[tuple[int, Person]], pictures: Sequence[Array], estimator: PoseEstimator
) -> float:
    votes = []
    for i, one in group[:: max(1, len(group) // 3)][:3]:
        height, width = pictures[i].shape[:2]
        estimator.forget()
        seen = estimator.follow(_around([one], width, height).of(pictures[i]))
        if seen is not None:
            votes.append(_sits(seen))
    estimator.forget()
    return float(np.mean(votes)) if votes else 0.0


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
