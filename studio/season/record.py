"""What an inbox has dealt with already: by content, and by name as long as the file stays."""

from __future__ import annotations

import fcntl
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path

from studio.config import structure
from studio.errors import ConfigError, OutputError
from studio.season.arrivals import Stamp
from studio.store import cannot_write, write_text


@dataclass(slots=True)
class Seen:
    """A file of the inbox as it was when it was last dealt with."""

    size: int
    changed_ns: int
    digest: str
    sidecar: str


@dataclass(slots=True)
class Dealt:
    """One clip, by its content: the folder of its episode (empty = none) and its sidecar then."""

    folder: str
    sidecar: str
    done: bool


@dataclass(slots=True)
class Record:
    """`inbox.json`.

    Attributes:
        clips: Content digest -> what was done.
        files: File name -> the file as it was.
    """

    schema: str = "launchside.inbox"
    version: int = 1
    clips: dict[str, Dealt] = field(default_factory=dict)
    files: dict[str, Seen] = field(default_factory=dict)

    def knows(self, name: str, stamp: Stamp, sidecar: str) -> bool:
        """Whether this very file, with this very sidecar, has been dealt with."""
        seen = self.files.get(name)
        return seen is not None and (seen.size, seen.changed_ns, seen.sidecar) == (*stamp, sidecar)

    def remember(self, name: str, stamp: Stamp, digest: str, sidecar: str) -> None:
        """This file need not be read again."""
        self.files[name] = Seen(*stamp, digest, sidecar)


def load(path: Path) -> Record:
    """Read a record; an empty one where there is none. Raises: ConfigError."""
    if not path.exists():
        return Record()
    try:
        plain = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise ConfigError(
            f"{path}: cannot be read ({error}).",
            "Restore it from a backup; without it every clip would be taken as new.",
        ) from error
    record = structure(plain, Record, str(path))
    if (record.schema, record.version) != ("launchside.inbox", 1):
        raise ConfigError(f"{path}: written by another version.", "Use that one.")
    return record


def save(path: Path, record: Record) -> None:
    """Write a record, in ASCII: a file's name need not be text. Raises: OutputError."""
    write_text(path, json.dumps(asdict(record), indent=1, sort_keys=True) + "\n")


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """Hold the folder for one inbox. Raises: OutputError: another holds it, or no writing there."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle = os.open(folder / ".inbox-lock", os.O_RDWR | os.O_CREAT, 0o644)
    except OSError as error:
        raise cannot_write(folder, error) from error
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError as error:
        raise OutputError(f"{folder}: another inbox works into it.", "Close that one.") from error
    finally:
        os.close(handle)
