"""Tasks for the workers of a crew, where a test needs one that misbehaves or keeps a record."""

import os
import time
from pathlib import Path

from studio.season.batch import Outcome, make_one


def moody(folder: str, force: bool) -> Outcome:
    """Does what the folder's name says."""
    name = Path(folder).name
    if name.startswith("raise"):
        raise ValueError(f"no {name}")
    if name.startswith("die"):
        os._exit(9)
    time.sleep(0.05)
    return Outcome(Path(folder), "made", 0.05)


def watched(folder: str, force: bool) -> Outcome:
    """`make_one` with a pipeline that only notes in the folder which process was at it and when."""
    from studio import pipeline

    pipeline.make = _note  # type: ignore[assignment]
    return make_one(folder, force)


def _note(episode, *_, **__):
    start = time.monotonic()
    time.sleep(0.2)
    (episode.folder / "at.txt").write_text(f"{os.getpid()} {start} {time.monotonic()}")
    return []
