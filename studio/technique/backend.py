"""What a pose backend must be able to do. Another backend is one more module that offers these."""

from __future__ import annotations

from dataclasses import dataclass
from types import TracebackType
from typing import Protocol, Self

from studio.model.arrays import Array


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody found in one picture, before any landmark is known.

    Attributes:
        hip_px: (2,) float, middle of the hips.
        radius_px: Of the circle about the hips that holds the whole body.
        score: 0-1.
    """

    hip_px: Array
    radius_px: float
    score: float


@dataclass(frozen=True, slots=True)
class Seen:
    """One athlete in one picture.

    Attributes:
        xy_px: (33, 2) float32, x right, y down.
        score: (33,) float32, 0-1.
        world_m: (33, 3) float32, metres about the hip centre, camera axes (y down, z away).
        mask: (H, W) float32, 0-1, the silhouette; None where the backend gives none.
    """

    xy_px: Array
    score: Array
    world_m: Array
    mask: Array | None


class PoseEstimator(Protocol):
    """Finds people in single pictures and follows one person from picture to picture.

    To add a backend: offer these members in a module of its own and give it a row in
    `backends.py` (DEVELOPERS.md has a small one).
    """

    source: str
    """Backend, version and weights, as every result shows it."""

    def people(self, image: Array) -> list[Person]:
        """Everybody in a (H, W, 3) uint8 RGB picture, in no order."""

    def follow(self, image: Array) -> Seen | None:
        """The one athlete in the next (H, W, 3) uint8 RGB picture; None = not seen."""

    def forget(self) -> None:
        """Look for the athlete afresh on the next picture."""

    def __enter__(self) -> Self: ...

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None: ...
