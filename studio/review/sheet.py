"""A coach's TOML file under edit: rows found, added, changed and removed, comments kept."""

from __future__ import annotations

import math
from typing import Any

import tomlkit
from tomlkit import TOMLDocument
from tomlkit.items import AoT, Comment, Table, Whitespace

from studio.errors import LaunchsideError

SAME_S = 2e-3
"""Two times this near name the same thing: they are written to the millisecond."""

Row = dict[str, Any]


class EditError(LaunchsideError):
    """An edit that cannot be made as asked."""

    exit_code = 7


def as_seconds(value: Any) -> float:
    """A time as it is written: whole milliseconds. Raises: EditError."""
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise EditError(f"A time must be a number, not {value!r}.")
    if not 0 <= value < 1e6:
        raise EditError("A time must not lie before the beginning.")
    return round(float(value), 3)


class Sheet:
    """One file under edit."""

    def __init__(self, text: str) -> None:
        self.document: TOMLDocument = tomlkit.parse(text)


class Rows:
    """One array of tables in `corrections.toml`; emptied, it goes."""

    def __init__(self, sheet: Sheet, name: str) -> None:
        self._sheet, self._name = sheet, name

    @property
    def _document(self) -> TOMLDocument:
        return self._sheet.document

    @property
    def _items(self) -> Any:
        return self._document.get(self._name, [])

    def find(self, key: str, value: float | str, **also: object) -> Any | None:
        """The last row whose `key` is `value` (within `SAME_S`) and that agrees with `also`."""
        for row in reversed(list(self._items)):
            if same(row.get(key), value) and all(row.get(k) == v for k, v in also.items()):
                return row
        return None

    def add(self, row: Row) -> None:
        """Append a row; one whose value is None is left out."""
        filled = {k: v for k, v in row.items() if v is not None}
        if self._name not in self._document:
            self._document.append(self._name, tomlkit.aot())
        items = self._items
        if isinstance(items, AoT):
            table = tomlkit.table()
            table.update(filled)
            items.append(table)
            if not items[-1].as_string().endswith("\n\n"):
                items[-1].add(tomlkit.nl())
        else:  # the coach wrote [{...}, {...}]
            inline = tomlkit.inline_table()
            inline.update(filled)
            items.append(inline)

    def change(self, row: Any, wanted: Row) -> None:
        """Give a row exactly the values of `wanted`; new ones go below its last."""
        for key in [k for k in row if k not in wanted]:
            del row[key]
        for key, value in wanted.items():
            if key in row or not isinstance(row, Table):
                row[key] = value
            else:  # before the blank line and the comments that follow the row
                last = list(row.value.keys())[-1]
                row.value._insert_after(last, key, tomlkit.item(value))

    def remove(self, row: Any) -> None:
        """Take a row out; comments below it, which belong to what follows, stay."""
        items = self._items
        at = next(i for i, other in enumerate(items) if other is row)
        kept = "".join(i.as_string() for i in _tail(row)) if isinstance(row, Table) else ""
        text = tomlkit.dumps(self._document)
        del items[at]
        if not len(items):
            del self._document[self._name]
        rest = tomlkit.dumps(self._document)
        same = next(
            (i for i, (a, b) in enumerate(zip(text, rest, strict=False)) if a != b), len(rest)
        )
        cut = rest.rfind("\n", 0, same) + 1  # never within a line
        if kept.strip():
            self._sheet.document = tomlkit.parse(rest[:cut] + kept + rest[cut:])


def _tail(table: Table) -> list[Comment | Whitespace]:
    tail: list[Comment | Whitespace] = []
    for key, item in reversed(table.value.body):
        if key is not None or not isinstance(item, (Comment, Whitespace)):
            break
        tail.insert(0, item)
    return tail


def same(a: object, b: float | str) -> bool:
    """Equal; times within `SAME_S`."""
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        return abs(a - b) <= SAME_S
    return a == b
