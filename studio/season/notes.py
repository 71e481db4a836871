"""Notes to athletes about clips that the check of technique does not get to."""

from __future__ import annotations

from studio.season.sidecar import Sidecar

LONGEST_S = 300
"""A review needs ten strokes; five minutes of rowing are a hundred, and take an hour to measure."""
BLURRED = " Your face will be blurred in it, as you have not agreed to have it shown."


def _hello(sidecar: Sidecar) -> str:
    return f"Hi {sidecar.alias}," if sidecar.alias else "Hi,"


def unreadable(sidecar: Sidecar) -> str:
    """The file cannot be opened as a video."""
    return (
        f"{_hello(sidecar)} thank you for the clip. The file could not be opened: it may have been"
        " cut short on its way. Please send it once more, just as your phone saved it."
    )


def too_long(sidecar: Sidecar, seconds: float) -> str:
    """The clip is longer than a review needs."""
    return (
        f"{_hello(sidecar)} thank you for the clip. It is {seconds / 60:.0f} minutes long; please"
        " send ten strokes of it, or at most five minutes."
    )


def guardian(sidecar: Sidecar) -> str:
    """Somebody under 18 whose guardian has not agreed."""
    return (
        f"{_hello(sidecar)} thank you for the clip. As you are under 18, I need your parent or"
        " guardian to agree before I make anything of it. Please ask them to write to me."
    )
