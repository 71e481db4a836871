"""Stage results on disk: plain JSON (arrays in a sibling .npz), written aside and renamed.

A stage's files count only while `work/keys/<stage>.json` holds the key they were made with and the
digests they had, so that a stale, missing, half-written or damaged file is noticed and remade.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from fractions import Fraction
from functools import partial
from operator import eq
from pathlib import Path
from typing import Any, TypeVar

import cattrs
import numpy as np
import xxhash

from studio.errors import LaunchsideError, OutputError

T = TypeVar("T")
_CHUNK = 1 << 20


ASIDE = ".aside-"
"""How the name of a file begins that is not finished yet."""


def sweep(folder: Path) -> None:
    """Remove what a killed run left unfinished in `folder`; its writers must be gone."""
    for path in folder.rglob(f"{ASIDE}*"):
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)


def digest_file(path: Path) -> str:
    """xxh3-128 of a file's content, hex."""
    hasher = xxhash.xxh3_128()
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            hasher.update(chunk)
    return hasher.hexdigest()


def digest_value(value: object) -> str:
    """xxh3-128 of a JSON-able value, hex; the order of keys does not matter."""
    text = json.dumps(value, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return str(xxhash.xxh3_128_hexdigest(text.encode()))


@contextlib.contextmanager
def write_aside(path: Path) -> Iterator[Path]:
    """Yield a temporary name beside `path` (same suffix); renamed onto it only when all went well.

    Raises:
        OutputError: The folder cannot be written, or the disk is full.
    """
    aside: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=ASIDE, suffix=path.suffix, dir=path.parent)
        os.close(handle)
        aside = Path(name)
        yield aside
        aside.chmod(0o644)
        aside.replace(path)
    except LaunchsideError:
        raise
    except OSError as error:
        raise cannot_write(path, error) from error
    finally:
        if aside is not None:
            aside.unlink(missing_ok=True)


@contextlib.contextmanager
def folder_aside(parent: Path) -> Iterator[Path]:
    """A folder in `parent` for files on the way to one there; gone afterwards.

    Raises:
        OutputError: It cannot be made.
    """
    try:
        parent.mkdir(parents=True, exist_ok=True)
        folder = tempfile.TemporaryDirectory(prefix=ASIDE, dir=parent)
    except OSError as error:
        raise cannot_write(parent, error) from error
    with folder as name:
        yield Path(name)


def cannot_write(path: Path, error: OSError) -> OutputError:
    """The error to tell the coach when `path` cannot be written."""
    return OutputError(
        f"{path}: cannot be written ({error.strerror}).",
        "Free some space or choose a folder you may write to.",
    )


def write_text(path: Path, text: str, *, newline: str = "\n") -> None:
    """Write UTF-8 text aside, then rename. Raises: OutputError."""
    with write_aside(path) as aside:
        aside.write_text(text, encoding="utf-8", newline=newline)


def write_json(path: Path, value: object) -> None:
    """Write plain values as JSON, aside and renamed. Raises: OutputError."""
    text = json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    # file names of other encodings come as lone surrogates, which UTF-8 cannot hold
    write_text(path, re.sub("[\ud800-\udfff]", lambda found: f"\\u{ord(found[0]):04x}", text))


def _is_array(kind: Any) -> bool:
    return getattr(kind, "__origin__", kind) is np.ndarray


class _Codec:
    """Data classes to JSON values and arrays, and back."""

    def __init__(self, arrays: dict[str, Any]) -> None:
        self.arrays = arrays
        self.converter = cattrs.Converter(forbid_extra_keys=True)
        self.converter.register_unstructure_hook(Fraction, str)
        self.converter.register_structure_hook(Fraction, lambda value, _: Fraction(value))
        self.converter.register_unstructure_hook_func(_is_array, self._put)
        self.converter.register_structure_hook_func(
            _is_array, lambda value, _: self.arrays[value["npz"]]
        )
        for plain in (object, str | float | int | bool | None):
            self.converter.register_structure_hook_func(partial(eq, plain), lambda v, _: v)

    def _put(self, array: Any) -> dict[str, str]:
        name = f"a{len(self.arrays)}"
        self.arrays[name] = array
        return {"npz": name}


def save(path: Path, value: object) -> list[Path]:
    """Write a data class as `path` (.json), its arrays as the sibling .npz; returns both.

    Raises:
        OutputError: Cannot write.
    """
    codec = _Codec({})
    plain = codec.converter.unstructure(value)
    written = [path]
    if codec.arrays:
        arrays_path = path.with_suffix(".npz")
        with write_aside(arrays_path) as aside:
            np.savez_compressed(aside, **codec.arrays)
        written.append(arrays_path)
    write_text(path, json.dumps(plain, sort_keys=True, indent=1, allow_nan=False) + "\n")
    return written


def load(path: Path, kind: type[T]) -> T:
    """Read what `save` wrote, as `kind`.

    Raises:
        OSError, ValueError, cattrs.BaseValidationError: Missing or damaged; remake it.
    """
    arrays: dict[str, Any] = {}
    arrays_path = path.with_suffix(".npz")
    if arrays_path.exists():
        try:
            with arrays_path.open("rb") as file, np.load(file, allow_pickle=False) as held:
                arrays = dict(held)
        except (EOFError, TypeError, zipfile.BadZipFile, zlib.error) as error:
            raise ValueError(f"{arrays_path}: damaged ({error})") from error
    try:
        plain = json.loads(path.read_text(encoding="utf-8"))
        return _Codec(arrays).converter.structure(plain, kind)
    except (TypeError, AttributeError, KeyError, RecursionError) as error:
        raise ValueError(f"{path}: damaged ({error})") from error


def mark(work: Path, stage: str, key: str, files: list[Path]) -> None:
    """Record that `files` are the result of `stage` under `key`. Raises: OutputError."""
    root = work.parent
    digests = {str(file.relative_to(root)): digest_file(file) for file in files}
    record = {"key": key, "files": digests}
    write_text(work / "keys" / f"{stage}.json", json.dumps(record, sort_keys=True, indent=1) + "\n")


def recorded(work: Path, stage: str) -> dict[str, Any] | None:
    """What `mark` recorded for `stage`; None where there is nothing readable."""
    try:
        record = json.loads((work / "keys" / f"{stage}.json").read_text(encoding="utf-8"))
        return record if isinstance(record["files"], dict) and record["key"] else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def stale_reason(work: Path, stage: str, key: str) -> str:
    """Why `stage` must run again, in plain words; empty when its files are good as they are."""
    record = recorded(work, stage)
    if record is None:
        return "never made"
    if record["key"] != key:
        return "what it rests on has changed"
    for name, digest in record["files"].items():
        path = work.parent / name
        if not path.is_file():
            return f"{name} is missing"
        if digest_file(path) != digest:
            return f"{name} was changed or damaged"
    return ""
