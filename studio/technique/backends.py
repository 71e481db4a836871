"""The pose backends by the name that `clip.weights` and `--weights` give them."""

from __future__ import annotations

from collections.abc import Callable

from studio.technique import models
from studio.technique.backend import PoseEstimator


def _full() -> PoseEstimator:
    from studio.technique.mediapipe_pose import MediaPipePose

    return MediaPipePose()


def _heavy() -> PoseEstimator:
    from studio.technique.mediapipe_pose import MediaPipePose

    return MediaPipePose(models.needed_heavy())


BACKENDS: dict[str, Callable[[], PoseEstimator]] = {"full": _full, "heavy": _heavy}
"""Each name but "auto" of `config.WEIGHTS`."""


def chosen(weights: str) -> str:
    """A name of `BACKENDS`; "auto" is the heavy weights where they were fetched, else the full."""
    if weights != "auto":
        return weights
    return "heavy" if models.heavy_weights() else "full"


def backend(weights: str) -> PoseEstimator:
    """The backend of that name, ready.

    Raises:
        ToolError: "heavy" is asked for and not on this computer.
    """
    return BACKENDS[chosen(weights)]()
