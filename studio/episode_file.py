"""Writing `episode.toml`: a new one, or one entry of an old one with its comments kept."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

import tomlkit

from studio.config import Settings, structure
from studio.errors import ConfigError, MediaError, OutputError
from studio.ingest.probe import probe
from studio.store import write_text

_TEMPLATE = """\
# One episode. Paths are relative to this folder.

[episode]
title = ""
series = ""
club = ""
coach = ""

[sources]
recording = ""  # the talk-over screen recording
clip = ""       # the athlete's own video
captions = ""   # your own .srt or .vtt; empty = transcribe the recording

[athlete]
alias = ""           # the name to use for the athlete
consent = "unknown"  # "yes" = the athlete agreed to be shown; otherwise the face is blurred
under_18 = false
height_cm = 0.0      # 0 = not known; when known, the hand drop is given in centimetres too
level = "club"       # "novice", "club" or "elite": which reference ranges apply

[clip]
captured_fps = 0.0  # for slow motion: frames a second at capture; 0 = as the file says
"""


def write_new(
    folder: Path,
    sources: dict[str, Path],
    about: dict[str, str],
    height_cm: float,
    fps: float,
    more: Mapping[str, Mapping[str, str | bool]] | None = None,
) -> list[str]:
    """Make an episode folder; returns what is odd about the sources, in plain words.

    `more` holds further entries, by table.

    Raises:
        OutputError: The folder holds an episode already, or cannot be written.
        MediaError: A source cannot be read.
        ConfigError: A value is out of its range.
    """
    path = folder / "episode.toml"
    if path.exists():
        raise OutputError(f"{folder}: already holds an episode.", "Choose another folder name.")
    notices = []
    for name, source in sources.items():
        if name == "captions":
            _readable(source)
            continue
        notices += [f"{source}: {notice}" for notice in probe(source).notices]
    document = tomlkit.parse(_TEMPLATE)
    for name, source in sources.items():
        document["sources"][name] = relative(source, folder)
    for key in ("title", "series", "club"):
        document["episode"][key] = about[key]
    for key in ("alias", "consent"):
        document["athlete"][key] = about[key]
    for table, entries in (more or {}).items():
        for key, value in entries.items():
            document[table][key] = value
    document["athlete"]["height_cm"] = height_cm
    document["clip"]["captured_fps"] = fps
    structure(document.unwrap(), Settings, str(path)).check(str(path))
    write_text(path, tomlkit.dumps(document))
    return notices


def set_source(folder: Path, name: str, source: Path) -> None:
    """Name another source in an existing `episode.toml`. Raises: ConfigError, MediaError."""
    path = folder / "episode.toml"
    _readable(source)
    try:
        document = tomlkit.parse(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise ConfigError(f"{path}: cannot be read ({error}).") from error
    document.setdefault("sources", tomlkit.table())[name] = relative(source, folder)
    write_text(path, tomlkit.dumps(document))


def withdraw_consent(folder: Path) -> bool:
    """Set the consent of an episode to "no"; whether it was anything else. Raises: ConfigError."""
    path = folder / "episode.toml"
    try:
        document = tomlkit.parse(path.read_text(encoding="utf-8"))
        before = structure(document.unwrap(), Settings, str(path)).athlete.consent
    except (OSError, ValueError) as error:
        raise ConfigError(f"{path}: cannot be read ({error}).") from error
    if before != "no":
        document.setdefault("athlete", tomlkit.table())["consent"] = "no"
        write_text(path, tomlkit.dumps(document))
    return before != "no"


def relative(source: Path, folder: Path) -> str:
    """`source` as written in an episode file: relative, so that both can move together."""
    return Path(os.path.relpath(source.resolve(), folder.resolve())).as_posix()


def _readable(source: Path) -> None:
    if not source.is_file():
        raise MediaError(f"{source}: there is no such file.", "Check the name and the folder.")
