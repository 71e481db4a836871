"""Make many episodes, one code path for processes and a cluster; a bad one never stops the rest."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Future, wait
from dataclasses import dataclass
from pathlib import Path

from studio.errors import LaunchsideError, ToolError
from studio.season.crew import Crew

DIED = "its worker died: too little memory, or a crash in a library. Make it alone to see more."
LOST = "the cluster lost it: is its scheduler still there? Run the same command again."
LOOK_S = 10.0
"""How often to look whether the crew is still there."""
_ONE = threading.Lock()
"""A Dask worker may run several tasks in one process; a model is loaded once a process at most."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one episode.

    Attributes:
        folder: The episode.
        result: "made", "fresh" (nothing had changed) or "failed".
        seconds: How long it was in work, wall clock.
        reason: Why it was made, or why it failed; one line.
        exit_code: What `launchside make` would have ended with; 0 unless it failed.
    """

    folder: Path
    result: str
    seconds: float
    reason: str = ""
    exit_code: int = 0


Task = Callable[[str, bool], Outcome]


def make_one(folder: str, force: bool = False) -> Outcome:
    """Make one episode; runs in a worker, one at a time in each process, and never raises."""
    with _ONE:
        start_s = time.monotonic()
        result, reason, code = _made(Path(folder), force)
        return Outcome(Path(folder), result, time.monotonic() - start_s, reason, code)


def _made(folder: Path, force: bool) -> tuple[str, str, int]:
    from studio.episode import open_episode
    from studio.pipeline import make
    from studio.stages import STAGES

    try:
        ran = make(open_episode(folder), STAGES, force=force)
    except LaunchsideError as error:
        return "failed", str(error), error.exit_code
    except Exception as error:  # noqa: BLE001 - whatever it is, the other episodes go on
        return "failed", _bug(error), 1
    return ("made", ran[0].reason, 0) if ran else ("fresh", "nothing has changed", 0)


def run(
    folders: Sequence[Path], crew: Crew, *, force: bool = False, task: Task = make_one
) -> Iterator[Outcome]:
    """Have every episode made; yields each outcome as it comes.

    No more episodes are given out than the crew can work on, so that little is lost when a worker
    dies: those in work at that moment are tried again, each alone, and only one that takes a
    worker with it once more has failed.

    Args:
        folders: Episode folders, absolute: the workers have folders of their own to stand in.
        crew: Who does the work.
        force: Run every stage, stale or not.
        task: What to do with each; called with the folder and `force`.

    Raises:
        ToolError: The cluster is gone.
    """
    lost = yield from _round(folders, crew, force, task)
    for folder in lost:
        for again in (yield from _round([folder], crew, force, task)):
            yield Outcome(again, "failed", 0.0, DIED, 1)


def _round(
    folders: Sequence[Path], crew: Crew, force: bool, task: Task
) -> Generator[Outcome, None, list[Path]]:
    """One try of each; returns those that were in work when a worker died."""
    waiting, lost = deque(folders), list[Path]()
    flying: dict[Future[Outcome], Path] = {}
    while waiting or flying:
        broken, many = False, crew.size()
        while waiting and len(flying) < many and not broken:
            folder = waiting.popleft()
            try:
                flying[crew.submit(task, str(folder), force)] = folder
            except BrokenExecutor:
                lost.append(folder)
                broken = True
        done = set() if broken else wait(flying, LOOK_S, FIRST_COMPLETED).done
        for future in done:
            folder = flying.pop(future)
            try:
                yield future.result()
            except BrokenExecutor:
                lost.append(folder)
                broken = True
            except CancelledError:
                yield Outcome(folder, "failed", 0.0, LOST, ToolError.exit_code)
            except Exception as error:  # noqa: BLE001 - the crew's own trouble, told in the table
                yield Outcome(folder, "failed", 0.0, _bug(error), 1)
        if broken:
            lost += flying.values()
            flying.clear()
            crew.renew()
    return lost


def _bug(error: BaseException) -> str:
    what = " ".join(f"{type(error).__name__}: {error}".split())
    return f"unexpected ({what[:160]}). Make it alone with LAUNCHSIDE_DEBUG=1 to see where."


def in_order(folders: Sequence[Path], outcomes: Sequence[Outcome]) -> list[Outcome]:
    """Outcomes in the order in which the episodes were given."""
    by_folder = {o.folder: o for o in outcomes}
    return [by_folder[f] for f in folders if f in by_folder]


def exit_code(outcomes: Sequence[Outcome]) -> int:
    """0 when all went well, else the code of the first that failed."""
    return next((o.exit_code for o in outcomes if o.result == "failed"), 0)
