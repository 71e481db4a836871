"""Talking points put together as a reader needs them: each change with its cue and its drill."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from studio.deliver.spoken import finish, imperative, statements
from studio.model.speech import Outline, TalkingPoint

_TURN = re.compile(r",?\s+(?:but|though|only)\s+", re.IGNORECASE)


@dataclass(slots=True)
class Item:
    """One thing to keep or to change, with what goes with it.

    Attributes:
        point: The keep or change itself; None where a cue or drill stands alone.
        said: Its sentences, cleaned; empty where another item already says them all.
        cues: (text, point) of its coaching cues.
        drills: (text, point) of its drills.
    """

    point: TalkingPoint | None
    said: list[str]
    cues: list[tuple[str, TalkingPoint]] = field(default_factory=list)
    drills: list[tuple[str, TalkingPoint]] = field(default_factory=list)

    @property
    def about(self) -> TalkingPoint:
        """The point that names it."""
        if self.point is not None:
            return self.point
        return (self.cues or self.drills)[0][1]


def gather(outline: Outline, names: tuple[str, ...]) -> tuple[list[Item], list[Item]]:
    """What to keep and what to change, in the order of the talk."""
    points = sorted(outline.points, key=lambda p: (p.start_s, p.end_s))
    keeps = [Item(p, _said(p, points, names)) for p in points if p.kind == "keep"]
    changes = [Item(p, _said(p, points, names)) for p in points if p.kind == "change"]
    for point in points:
        if point.kind in ("coaching_cue", "drill"):
            _attach(point, changes, names)
    _say_once([*keeps, *changes])
    return [k for k in keeps if k.said], [c for c in changes if c.said or c.cues or c.drills]


def _said(point: TalkingPoint, points: Sequence[TalkingPoint], names: tuple[str, ...]) -> list[str]:
    """Its sentences; of one that praises and faults in a breath, the half that is its own."""
    other = "change" if point.kind == "keep" else "keep"
    shared = {s for p in points if p.kind == other for s in statements(p.text, names)}
    made = [_half(s, point.kind) if s in shared else s for s in statements(point.text, names)]
    return [finish(s, names) for s in made]


def _half(sentence: str, kind: str) -> str:
    halves = _TURN.split(sentence, maxsplit=1)
    return halves[0 if kind == "keep" else -1]


def _attach(point: TalkingPoint, changes: list[Item], names: tuple[str, ...]) -> None:
    """Give a cue or drill to the change it answers: same topic, else same phase, else the last."""
    before = [c for c in changes if c.about.start_s <= point.start_s]
    fits = (
        [c for c in before if c.about.topic == point.topic]
        or [c for c in before if c.about.phase == point.phase]
        or before
    )
    if not fits:
        fits = [Item(None, [])]
        changes.insert(0, fits[0])
    text = " ".join(filter(None, (imperative(s, names) for s in statements(point.text, names))))
    (fits[-1].cues if point.kind == "coaching_cue" else fits[-1].drills).append((text, point))


def _say_once(items: Sequence[Item]) -> None:
    seen: set[str] = set()
    for item in items:
        item.said = [s for s in item.said if not (s in seen or seen.add(s))]  # type: ignore[func-returns-value]
