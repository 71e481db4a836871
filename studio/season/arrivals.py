"""Files that arrive in a folder: which are clips by name, which are all there, a copy of each."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import BinaryIO

import xxhash

from studio.errors import MediaError
from studio.store import cannot_write

VIDEO = frozenset(
    [
        ".mp4",
        ".m4v",
        ".mov",
        ".qt",
        ".3gp",
        ".mkv",
        ".webm",
        ".avi",
        ".mts",
        ".m2ts",
        ".ts",
        ".mpg",
        ".mpeg",
        ".wmv",
        ".flv",
    ]
)
"""Endings of names that phones, cameras and messengers give to clips."""
_PARTIAL = frozenset([".part", ".crdownload", ".download", ".tmp", ".filepart", ".toml"])
"""Not arrived yet, by the name; and what is said of a clip."""
_CHUNK = 1 << 20
Stamp = tuple[int, int]
"""Size in bytes and time of change in ns: as long as both stay, so does the file."""


def look(folder: Path) -> dict[Path, Stamp]:
    """Every regular file right in the folder, by name; no links, no hidden or partial ones.

    Raises:
        MediaError: The folder cannot be read.
    """
    try:
        entries = sorted(os.scandir(folder), key=lambda e: e.name)
    except OSError as error:
        raise MediaError(
            f"{folder}: cannot be read ({error.strerror}).", "Is it on a disk that was taken away?"
        ) from error
    found = {}
    for entry in entries:
        if entry.name.startswith(".") or Path(entry.name).suffix.lower() in _PARTIAL:
            continue
        try:
            status = entry.stat(follow_symlinks=False)
        except FileNotFoundError:
            continue  # gone again
        if stat.S_ISREG(status.st_mode):
            found[folder / entry.name] = (status.st_size, status.st_mtime_ns)
    return found


def arrived(before: dict[Path, Stamp], now: dict[Path, Stamp]) -> dict[Path, Stamp]:
    """Files that did not grow or change between two looks, and hold something."""
    return {p: s for p, s in now.items() if before.get(p) == s and s[0] > 0}


def is_video_name(path: Path) -> bool:
    """Whether the name ends the way clips do."""
    return path.suffix.lower() in VIDEO


def copied(source: Path, target: Path) -> str:
    """Copy `source`, which is only read, to the new file `target`; the digest of what was copied.

    Raises:
        OSError: `source` cannot be read, or has become a link.
        OutputError: `target` cannot be written.
    """
    hasher = xxhash.xxh3_128()
    reading = os.open(source, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK)
    with os.fdopen(reading, "rb") as reader, _opened(target) as writer:
        while chunk := reader.read(_CHUNK):
            hasher.update(chunk)
            try:
                writer.write(chunk)
                writer.flush()
            except OSError as error:
                raise cannot_write(target, error) from error
    return hasher.hexdigest()


def _opened(target: Path) -> BinaryIO:
    try:
        return target.open("xb")
    except OSError as error:
        raise cannot_write(target, error) from error
