"""Faces in the clip that belong to nobody the episode is about."""

from __future__ import annotations

from dataclasses import dataclass

from studio.model.arrays import Array


@dataclass(frozen=True, slots=True)
class OtherFaces:
    """Bystanders' faces, one row for each face on each frame looked at.

    Attributes:
        time_s: (n,) float64, clip time, rising; several rows may share one.
        circle_px: (n, 3) float64: x, y and radius of a circle that holds the face, clip pixels.
    """

    time_s: Array
    circle_px: Array
