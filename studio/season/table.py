"""`season.csv`: every measure of every episode, with its error and what became of it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

from studio.season.change import Change
from studio.season.history import Course, Entry, History

HEAD = (
    "athlete", "number", "episode", "folder", "measure", "label", "unit", "value", "strokes",
    "spread", "error_of_one_reading", "error_bar",
    "change_since_first", "error_since_first", "verdict_since_first",
    "change_since_last", "error_since_last", "verdict_since_last", "note",
)  # fmt: skip


def season_csv(histories: Sequence[History]) -> str:
    """One row a measure and episode; empty = not known, the note says why."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEAD)
    for history in histories:
        for course in history.courses:
            writer.writerows(_rows(history, course))
    return out.getvalue()


def _rows(history: History, course: Course) -> Iterator[list[str]]:
    for place, (entry, reading) in enumerate(zip(history.entries, course.readings, strict=True)):
        m = reading.measure
        numbers = [m.value, m.strokes, m.spread, m.error, reading.bar]
        first, last = course.since(place)
        yield [
            *map(_text, (history.alias, *_about(entry), course.name, course.label, course.unit)),
            *map(_number, numbers),
            *_change(first),
            *_change(last),
            _text(reading.why_not),
        ]


def _about(entry: Entry) -> tuple[str, str, str]:
    return str(entry.about.number or ""), entry.about.title, entry.folder.name


def _change(change: Change | None) -> list[str]:
    if change is None:
        return ["", "", ""]
    return [_number(change.difference), _number(change.error), change.verdict]


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.4g}"


def _text(value: str) -> str:
    """A text that a spreadsheet would take for a formula, defused (OWASP, CSV Injection)."""
    return f"'{value}" if value.startswith(("=", "+", "-", "@", "\t", "\r")) else value
