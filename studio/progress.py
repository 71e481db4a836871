"""Progress of long work: one protocol, shown as a bar, as plain lines, or not at all."""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterable, Iterator
from typing import Any, Protocol, TypeVar

T = TypeVar("T")


class Progress(Protocol):
    """What a stage may say while it works."""

    def start(self, label: str, total: float | None, unit: str) -> None:
        """Begin a piece of work; `total` in `unit`s, None when unknown."""

    def advance(self, amount: float = 1) -> None:
        """`amount` more units are done."""

    def note(self, text: str) -> None:
        """A sentence for the coach."""

    def finish(self) -> None:
        """The piece of work is done."""


class Quiet:
    """Says nothing."""

    def start(self, label: str, total: float | None, unit: str) -> None:
        """Ignored."""

    def advance(self, amount: float = 1) -> None:
        """Ignored."""

    def note(self, text: str) -> None:
        """Ignored."""

    def finish(self) -> None:
        """Ignored."""


class Terminal:
    """A tqdm bar with a time to go on a terminal; one plain line a piece of work elsewhere."""

    def __init__(self) -> None:
        self._bar: Any = None

    def start(self, label: str, total: float | None, unit: str) -> None:
        """Open a bar, or print the label where there is no terminal."""
        from tqdm import tqdm

        self.finish()
        if sys.stderr.isatty():
            self._bar = tqdm(total=total, desc=label, unit=unit, leave=False, file=sys.stderr)
        else:
            print(f"{label} ...", file=sys.stderr, flush=True)

    def advance(self, amount: float = 1) -> None:
        """Move the bar."""
        if self._bar is not None:
            self._bar.update(amount)

    def note(self, text: str) -> None:
        """Print above the bar."""
        from tqdm import tqdm

        tqdm.write(text, file=sys.stderr)

    def finish(self) -> None:
        """Close the bar."""
        if self._bar is not None:
            self._bar.close()
            self._bar = None


def track(
    items: Iterable[T], progress: Progress, label: str, total: float | None, unit: str
) -> Iterator[T]:
    """Yield `items`, advancing `progress` by one after each; closed even when the caller stops."""
    progress.start(label, total, unit)
    try:
        for item in items:
            yield item
            progress.advance()
    finally:
        progress.finish()


@contextlib.contextmanager
def silenced() -> Iterator[None]:
    """Send what the C++ libraries print on stderr to nowhere; Python's own is flushed first."""
    sys.stderr.flush()
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
