"""Captions put right on the coach's TOML document: text, times, splits and merges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit

from studio.review.sheet import EditError, Row, Rows, Sheet, as_seconds

TIMES = ("start_s", "end_s")
KNOWN = {"text", *TIMES, "split_at", "join_next"}


def caption(
    doc: Sheet,
    recording_s: float,
    changes: Mapping[str, Any],
    also: Sequence[tuple[float, Mapping[str, Any]]] = (),
) -> None:
    """One caption, found by its start as made; a change of None takes that change back.

    A new line in the text begins a caption of its own. `also`: starts and changes of further ones,
    such as those that were merged with it.
    """
    _change(doc, recording_s, changes)
    for at_s, more in also:
        _change(doc, at_s, more)


def _change(doc: Sheet, recording_s: float, changes: Mapping[str, Any]) -> None:
    if set(changes) - KNOWN:
        raise EditError(f"A caption has {', '.join(sorted(KNOWN))}.")
    rows, recording_s = Rows(doc, "captions"), as_seconds(recording_s)
    row = rows.find("recording_s", recording_s)
    wanted: Row = {"recording_s": recording_s} if row is None else dict(row)
    wanted |= {name: _written(name, value) for name, value in changes.items()}
    wanted = {k: v for k, v in wanted.items() if v is not None and v is not False}
    start, end = wanted.get("start_s"), wanted.get("end_s")
    if start is not None and end is not None and end <= start:
        raise EditError("A caption must end after it starts.")
    if row is not None and len(wanted) == 1:
        rows.remove(row)
    elif row is not None:
        rows.change(row, wanted)
    elif len(wanted) > 1:
        rows.add(wanted)


def _written(name: str, value: Any) -> Any:
    """A change as it stands in the file."""
    if value is None:
        return None
    if name == "text":
        return tomlkit.string(value, multiline="\n" in value)
    return as_seconds(value) if name in TIMES else value
