"""`measures.csv`: every measure, summed up and stroke by stroke."""

from __future__ import annotations

import csv
import io

from studio.model.technique import Technique


def measures_csv(technique: Technique) -> str:
    """One row a measure: the median over strokes, then one column a stroke; empty = unknown."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    head = ["measure", "label", "unit", "median", "spread", "strokes", "confidence", "error"]
    writer.writerow([*head, *(f"stroke {s.index + 1}" for s in technique.strokes), "note"])
    writer.writerow(_times("catch_s", technique))
    writer.writerow(_times("finish_s", technique))
    for m in technique.measures:
        summed = [m.value, m.spread, m.strokes, m.confidence, m.error]
        writer.writerow(
            [m.name, m.label, m.unit, *map(_cell, summed), *map(_cell, m.per_stroke), m.reason]
        )
    return out.getvalue()


def _times(name: str, technique: Technique) -> list[str]:
    label = name.removesuffix("_s") + " at, clip time"
    values = [_cell(getattr(stroke, name)) for stroke in technique.strokes]
    return [name, label, "s", "", "", "", "", "", *values, ""]


def _cell(value: float | None) -> str:
    return "" if value is None else f"{value:.4g}"
