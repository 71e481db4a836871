"""One measure over the season as a small picture: a dot an episode, each with its error bar."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape

from studio.season.change import Reading

WIDTH, HEIGHT, EDGE = 220, 56, 10


def svg(readings: Sequence[Reading], told: Sequence[str], text: str) -> str:
    """An inline picture that needs nothing else.

    Filled dots can be compared; a hollow one cannot, and has no bar; a small cross on the floor
    stands for no value at all. The dashed line carries the first comparable reading on, so that
    the eye sees which bars reach it.

    Args:
        readings: In order; at least one has a value.
        told: What to say of each when it is pointed at.
        text: The picture in words, for those who cannot see it.
    """
    spans = [(v - (r.bar or 0.0), v + (r.bar or 0.0))
             for r in readings if (v := r.measure.value) is not None]  # fmt: skip
    low, high = min(a for a, _ in spans), max(b for _, b in spans)
    room = (high - low) or abs(high) or 1.0

    def y(value: float) -> float:
        return HEIGHT - EDGE - (value - low) / room * (HEIGHT - 2 * EDGE)

    step = (WIDTH - 2 * EDGE) / max(1, len(readings) - 1)
    xs = [EDGE + i * step for i in range(len(readings))] if len(readings) > 1 else [WIDTH / 2]
    first = next((r.measure.value for r in readings if not r.why_not), None)
    marks = [_line("first", EDGE, y(first), WIDTH - EDGE, y(first))] if first is not None else []
    for x, reading, words in zip(xs, readings, told, strict=True):
        marks.append(f"<g><title>{escape(words)}</title>{_mark(x, reading, y)}</g>")
    return (
        f'<svg role="img" aria-label="{escape(text)}" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}">{"".join(marks)}</svg>'
    )


def _mark(x: float, reading: Reading, y: Callable[[float], float]) -> str:
    value = reading.measure.value
    if value is None:
        floor = HEIGHT - EDGE / 2
        return _line("none", x - 3, floor - 3, x + 3, floor + 3) + _line(
            "none", x - 3, floor + 3, x + 3, floor - 3
        )
    bar = reading.bar
    if bar is None:
        return f'<circle class="hollow" cx="{x:.1f}" cy="{y(value):.1f}" r="3.5"/>'
    low, high = y(value - bar), y(value + bar)
    return (
        _line("bar", x, low, x, high)
        + _line("bar", x - 4, low, x + 4, low)
        + _line("bar", x - 4, high, x + 4, high)
        + f'<circle class="dot" cx="{x:.1f}" cy="{y(value):.1f}" r="3.5"/>'
    )


def _line(kind: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<path class="{kind}" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>'
