"""Which episode folders are meant, and names that are safe to print."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path


def episodes_in(folders: Iterable[Path]) -> list[Path]:
    """The episode folders among `folders`, and right inside them, each once, absolute.

    A folder that neither is an episode nor holds one stays in the list, so that whoever opens it
    says what is wrong with it.
    """
    found: dict[Path, None] = {}
    for folder in folders:
        inside = [] if is_episode(folder) else sorted(f for f in _children(folder) if is_episode(f))
        for episode in inside or [folder]:
            found[episode.resolve()] = None
    return list(found)


def is_episode(folder: Path) -> bool:
    """Whether the folder holds an `episode.toml`."""
    return (folder / "episode.toml").is_file()


def _children(folder: Path) -> list[Path]:
    try:
        return [f for f in folder.iterdir() if f.is_dir() and not f.name.startswith(".")]
    except OSError:
        return []


def printable(text: object, most: int = 200) -> str:
    """On one line, without control characters (which could command a terminal), cut at `most`."""
    line = " ".join("".join(c if c.isprintable() else " " for c in str(text)).split())
    return line if len(line) <= most else f"{line[: most - 1]}…"
