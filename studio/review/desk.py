"""The desk itself: one episode, its edits, and what they lead to. Knows nothing of the web."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from studio import store
from studio.config import load_corrections, load_settings
from studio.episode import open_episode
from studio.errors import LaunchsideError
from studio.model.technique import Technique
from studio.pipeline import key_of
from studio.review import edits, page
from studio.review.edits import Documents
from studio.review.journal import Journal
from studio.review.live import Live, read_results, work_out
from studio.review.sheet import EditError
from studio.stages import STAGES


class Desk:
    """One open episode folder; every method may be called from any thread.

    Raises:
        ConfigError: No episode folder, or files that cannot be read.
    """

    def __init__(self, folder: Path) -> None:
        open_episode(folder)
        self.folder = folder
        self.journal = Journal(folder)
        self._lock = threading.RLock()
        self._live: Live
        self._seen = ""
        self._body: tuple[Technique | None, int] = (None, 0)
        self.reload()

    def reload(self) -> None:
        """Read what a make has left, and work out the rest."""
        with self._lock:
            results = read_results(self.folder / "work")
            settings, corrections = load_settings(self.folder), load_corrections(self.folder)
            self._live = work_out(results, settings, corrections)
            self._seen = self.journal.revision()

    @property
    def live(self) -> Live:
        """The episode with every edit applied, those made by hand outside too."""
        with self._lock:
            if self.journal.revision() != self._seen:
                self._follow(self.journal.documents())
            return self._live

    def _follow(self, documents: Documents) -> None:
        settings, corrections = documents.read()
        self._live = work_out(self._live.results, settings, corrections, self._live)
        self._seen = self.journal.revision()

    def state(self) -> page.Plain:
        """All that an edit may change, with the revision that the next edit must name."""
        with self._lock:
            live = self.live
            history = self.journal.history()
            return page.state(live, self.folder) | {
                "revision": self._seen,
                "undo": history.undo_label,
                "redo": history.redo_label,
                "body": self.body_revision(),
                "stale": self.stale(),
            }

    def body_revision(self) -> str:
        """Changes whenever the body's curves do."""
        technique, number = self._body
        if technique is not self._live.technique:
            self._body = (self._live.technique, number + 1)
        return str(self._body[1])

    def stale(self) -> str:
        """Why the episode should be made again; empty = it is up to date.

        By the keys alone, as this is asked after every edit: a make also reads every file again, to
        notice a damaged one.
        """
        episode = open_episode(self.folder)
        for stage in STAGES:
            record = store.recorded(episode.work, stage.name)
            if record is None:
                return f"{stage.name}: never made"
            if record["key"] != key_of(episode, stage):
                return f"{stage.name}: what it rests on has changed"
            if not all((self.folder / name).is_file() for name in record["files"]):
                return f"{stage.name}: a file is missing"
        return ""

    def edit(self, revision: str, op: str, args: Mapping[str, Any], merge: str = "") -> None:
        """One edit, `undo` or `redo`: saved at once, then worked out; taken back if that fails.

        Raises:
            Conflict: The files are not those of `revision`.
            EditError: It cannot be made, or the episode could not be worked out with it.
            ConfigError, OutputError: As for any file.
        """
        with self._lock, self.journal.locked():
            self.journal.check(revision)
            before, history = self.live, self.journal.history()
            travels = {"undo": -1, "redo": 1}
            if op in travels:
                self.journal.go(travels[op])
            else:
                after, label = edits.apply(self.journal.documents(), op, args)
                self.journal.record(after, label, merge)
            settings, corrections = self.journal.documents().read()
            live = work_out(before.results, settings, corrections, before)
            fresh = [t for t in live.troubles if t not in before.troubles]
            if fresh and op not in travels:
                self.journal.restore(history)
                raise EditError(fresh[0])
            self._live, self._seen = live, self.journal.revision()

    def source(self, name: str) -> Path | None:
        """The recording, the clip or the finished program; None where there is none."""
        if name == "program":
            path = self.folder / "out" / "episode.mp4"
            return path if path.is_file() else None
        if name not in ("recording", "clip"):
            return None
        try:
            return open_episode(self.folder).source(name)
        except LaunchsideError:
            return None

    def output(self, name: str) -> Path | None:
        """A deliverable by its name; None for anything that is no file inside `out/`."""
        root = (self.folder / "out").resolve()
        try:
            path = (root / name).resolve()
        except (OSError, ValueError):
            return None
        return path if path.is_relative_to(root) and path.is_file() else None
