"""Ends work that no longer moves, so that nobody waits for a computer that has given up."""

from __future__ import annotations

import contextlib
import ctypes
import os
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass

import psutil

from studio.errors import StallError
from studio.progress import Progress

COMPUTES = 0.05
"""Share of one core above which a process counts as computing, not just waiting."""


@dataclass(frozen=True, slots=True)
class Patience:
    """How long to wait for a sign of life.

    Attributes:
        idle_s: Without progress and without computing: a deadlock, or a disk that never answers.
        busy_s: Without progress though something computes: a loop that never ends. The longest
            step that reports no progress (the search through a recording of 3 hours) takes minutes.
        grace_s: Then for the work to end by itself before the process is ended.
    """

    idle_s: float = 180.0
    busy_s: float = 1800.0
    grace_s: float = 20.0


class Watched:
    """A `Progress` that notes when it was last told anything."""

    def __init__(self, progress: Progress) -> None:
        self._progress = progress
        self.heard_s = time.monotonic()

    def start(self, label: str, total: float | None, unit: str) -> None:
        """Passed on."""
        self.heard_s = time.monotonic()
        self._progress.start(label, total, unit)

    def advance(self, amount: float = 1) -> None:
        """Passed on."""
        self.heard_s = time.monotonic()
        self._progress.advance(amount)

    def note(self, text: str) -> None:
        """Passed on."""
        self.heard_s = time.monotonic()
        self._progress.note(text)

    def finish(self) -> None:
        """Passed on."""
        self.heard_s = time.monotonic()
        self._progress.finish()


@contextlib.contextmanager
def watchdog(name: str, progress: Watched, patience: Patience) -> Iterator[None]:
    """While the block runs, expect a sign of life from it within `patience`.

    Work that stalls in Python gets the error raised where it is; work that stalls inside a library
    cannot be reached, so the process ends with the error's exit code. Results are written aside
    and renamed, so nothing half-made is left either way.

    Args:
        name: Of the work, for the message.
        progress: What the work reports to.
        patience: How long to wait.

    Raises:
        StallError: Nothing moved.
    """
    progress.heard_s = time.monotonic()
    over = threading.Event()
    worker = ctypes.c_ulong(threading.get_ident())
    console = os.dup(2)  # file descriptor 2 itself leads nowhere while a library is silenced

    def watch() -> None:
        if _stalls(progress, patience, over):
            ctypes.pythonapi.PyThreadState_SetAsyncExc(worker, ctypes.py_object(StallError))
            if not over.wait(patience.grace_s):
                os.write(console, f"launchside: {_stalled(name)}\n".encode())
                end_now(StallError.exit_code)
        os.close(console)

    threading.Thread(target=watch, daemon=True).start()
    try:
        yield
    except StallError as error:  # raised from outside, bare
        raise _stalled(name) from error
    finally:
        over.set()


def _stalls(progress: Watched, patience: Patience, over: threading.Event) -> bool:
    """Waits until the work is over (False) or has shown no sign of life for too long (True)."""
    computed, moved_s = _cpu_s(), time.monotonic()
    pause_s = min(5.0, patience.idle_s / 4)
    while not over.wait(pause_s):
        now, spent = time.monotonic(), _cpu_s()
        if spent - computed > COMPUTES * pause_s:
            moved_s = now
        computed = spent
        unheard_s = now - progress.heard_s
        idle = now - moved_s >= patience.idle_s
        if unheard_s >= patience.busy_s or (idle and unheard_s >= patience.idle_s):
            return True
    return False


def _stalled(name: str) -> StallError:
    return StallError(
        f"{name}: nothing has moved for a long time, so it was stopped.",
        "Is a file on a disk that was unplugged? Run the same command again to go on.",
    )


def _cpu_s() -> float:
    """CPU seconds of this process and its children so far."""
    me = psutil.Process()
    total = 0.0
    for process in [me, *me.children(recursive=True)]:
        with contextlib.suppress(psutil.Error):
            times = process.cpu_times()
            total += times.user + times.system
    return total


def end_now(code: int) -> None:
    """End this process and its children, whatever they are doing."""
    for child in psutil.Process().children(recursive=True):
        with contextlib.suppress(psutil.Error):
            child.kill()
    os._exit(code)
