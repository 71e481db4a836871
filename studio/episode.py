"""An episode folder: its settings, its sources, its lock."""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from studio.config import Corrections, Settings, load_corrections, load_settings
from studio.errors import ConfigError, MediaError, OutputError
from studio.store import cannot_write, digest_file, sweep, write_text


@dataclass(frozen=True, slots=True)
class Episode:
    """One episode folder, read once.

    Attributes:
        folder: The folder itself.
        settings: Its `episode.toml`.
        corrections: Its `corrections.toml`.
    """

    folder: Path
    settings: Settings
    corrections: Corrections

    @property
    def work(self) -> Path:
        """Where stage results lie."""
        return self.folder / "work"

    @property
    def out(self) -> Path:
        """Where the deliverables lie."""
        return self.folder / "out"

    def source(self, name: str) -> Path | None:
        """Path of the "recording", "clip" or "captions"; None where the episode has none.

        Raises:
            MediaError: Named in `episode.toml` but not there.
        """
        given: str = getattr(self.settings.sources, name)
        if not given:
            return None
        path = (self.folder / given).resolve()  # a plain path in messages, and safe as an argument
        if not path.is_file():
            raise MediaError(
                f"{path}: the {name} is not there.",
                f"Put it back, or mend sources.{name} in {self.folder / 'episode.toml'}.",
            )
        return path


def open_episode(folder: Path) -> Episode:
    """Read an episode folder.

    Raises:
        ConfigError: No episode folder, or bad settings.
    """
    if not (folder / "episode.toml").is_file():
        raise ConfigError(
            f"{folder}: not an episode folder (it holds no episode.toml).",
            f"Make one: launchside new {folder} --recording FILE --clip FILE",
        )
    return Episode(folder, load_settings(folder), load_corrections(folder))


@contextmanager
def locked(episode: Episode) -> Iterator[None]:
    """Hold the episode for one `make`; the lock goes with the process, however it ends.

    Raises:
        OutputError: Another `make` holds it, or the folder cannot be written.
    """
    path = episode.work / "lock"
    try:
        episode.work.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as error:
        raise cannot_write(episode.work, error) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        sweep(episode.work)
        sweep(episode.out)
        yield
    except BlockingIOError as error:
        raise OutputError(
            f"{episode.folder}: another make is at work on this episode.", "Wait until it is done."
        ) from error
    finally:
        os.close(handle)


def source_digest(episode: Episode, path: Path) -> str:
    """Content digest of a source, remembered by size and time of change. Raises: OutputError."""
    record_path = episode.work / "keys" / "sources.json"
    try:
        known = json.loads(record_path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        known = {}
    status = path.stat()
    stamp = [status.st_size, status.st_mtime_ns]
    entry = known.get(str(path)) if isinstance(known, dict) else None
    if isinstance(entry, dict) and entry.get("stamp") == stamp:
        return str(entry["digest"])
    digest = digest_file(path)
    known = known if isinstance(known, dict) else {}
    known[str(path)] = {"stamp": stamp, "digest": digest}
    write_text(record_path, json.dumps(known, sort_keys=True, indent=1) + "\n")
    return digest
