"""The coach's two files on disk: saved at once, undone and redone, never overwritten unseen.

Every state that the files went through is kept in `work/desk/history.json`, so that undo and redo
outlive the page and the program. The history is written first; a crash between the two writes is
noticed by comparing the files with it. An edit made by hand in between becomes a state of its own.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from studio.errors import LaunchsideError, OutputError
from studio.review.edits import Documents
from studio.store import digest_value, write_json, write_text

MOST_STATES = 200
MOST_BYTES = 8 << 20
"""What the history may take on disk; the oldest states go first."""


class Conflict(LaunchsideError):
    """The files are not those that the edit was meant for."""


@dataclass(frozen=True, slots=True)
class State:
    """Both files at one moment; `label` names the edit that led here."""

    corrections: str
    episode: str
    label: str
    merge: str = ""

    @property
    def documents(self) -> Documents:
        """The files."""
        return Documents(self.corrections, self.episode)


@dataclass(frozen=True, slots=True)
class History:
    """All states in order, and which of them the files are in."""

    states: tuple[State, ...]
    position: int

    @property
    def undo_label(self) -> str | None:
        """What undo would take back; None = nothing."""
        return self.states[self.position].label if self.position else None

    @property
    def redo_label(self) -> str | None:
        """What redo would do again; None = nothing."""
        last = self.position + 1 >= len(self.states)
        return None if last else self.states[self.position + 1].label


class Journal:
    """Reads and writes the two files of one episode folder. Nothing is remembered in memory."""

    def __init__(self, folder: Path) -> None:
        self._corrections = folder / "corrections.toml"
        self._episode = folder / "episode.toml"
        self._history = folder / "work" / "desk" / "history.json"
        self._lock = folder / "work" / "desk" / "lock"

    def documents(self) -> Documents:
        """The files as they are. Raises: OutputError."""
        try:
            exists = self._corrections.exists()
            corrections = self._corrections.read_text("utf-8") if exists else ""
            return Documents(corrections, self._episode.read_text("utf-8"))
        except (OSError, UnicodeDecodeError) as error:
            raise OutputError(f"{self._episode.parent}: cannot be read ({error}).") from error

    def revision(self) -> str:
        """Changes with every byte of either file."""
        return revision_of(self.documents())

    @contextlib.contextmanager
    def locked(self) -> Iterator[None]:
        """Hold the files against another desk on the same episode."""
        self._lock.parent.mkdir(parents=True, exist_ok=True)
        handle = os.open(self._lock, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)

    def history(self) -> History:
        """The history, squared with the files as they are."""
        now = self.documents()
        known = self._read()
        if known is None:
            return History((State(now.corrections, now.episode, "open"),), 0)
        if known.states[known.position].documents == now:
            return known
        for beside in (known.position - 1, known.position + 1):  # a crash between two writes
            if 0 <= beside < len(known.states) and known.states[beside].documents == now:
                return replace(known, position=beside)
        by_hand = State(now.corrections, now.episode, "an edit by hand")
        return History((*known.states[: known.position + 1], by_hand), known.position + 1)

    def check(self, revision: str) -> None:
        """Raises: Conflict, where the files have moved on from `revision`."""
        if revision != self.revision():
            raise Conflict(
                "The episode was changed elsewhere in the meantime (another tab, or an editor).",
                "What you see now is the newest; do your edit again if it is still wanted.",
            )

    def record(self, after: Documents, label: str, merge: str = "") -> None:
        """Write the files and a new state; one with the same `merge` as the last replaces it.

        Raises:
            OutputError: Cannot write; the files are as before.
        """
        history = self.history()
        if after == history.states[history.position].documents:
            return
        states = history.states[: history.position + 1]
        if merge and len(states) > 1 and states[-1].merge == merge:
            states = states[:-1]
        self._write(
            History((*states, State(after.corrections, after.episode, label, merge)), len(states))
        )

    def go(self, by: int) -> None:
        """Write the files one state on (+1) or back (-1). Raises: Conflict, OutputError."""
        history = self.history()
        target = history.position + by
        if not 0 <= target < len(history.states):
            raise Conflict("There is nothing to undo." if by < 0 else "There is nothing to redo.")
        self._write(replace(history, position=target))

    def restore(self, history: History) -> None:
        """Write an earlier history again, and the files as they were. Raises: OutputError."""
        self._write(history)

    def _read(self) -> History | None:
        try:
            plain = json.loads(self._history.read_text("utf-8"))
            states = tuple(State(**one) for one in plain["states"])
            position = int(plain["position"])
            return History(states, position) if 0 <= position < len(states) else None
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def _write(self, history: History) -> None:
        history = _short(history)
        plain = {"position": history.position, "states": [asdict(s) for s in history.states]}
        write_json(self._history, plain)
        wanted = history.states[history.position].documents
        now = self.documents()
        if now.episode != wanted.episode:
            write_text(self._episode, wanted.episode)
        if now.corrections != wanted.corrections:
            if wanted.corrections:
                write_text(self._corrections, wanted.corrections)
            else:
                self._corrections.unlink(missing_ok=True)


def revision_of(documents: Documents) -> str:
    """A short name for exactly these files."""
    return digest_value([documents.corrections, documents.episode])[:16]


def _short(history: History) -> History:
    states, position = history.states, history.position
    size = sum(len(s.corrections) + len(s.episode) for s in states)
    while position > 0 and (len(states) > MOST_STATES or size > MOST_BYTES):
        size -= len(states[0].corrections) + len(states[0].episode)
        states, position = states[1:], position - 1
    return History(states, position)
