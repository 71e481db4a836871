"""Talking points put together as a reader needs them: each change with its cue and its drill."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from studio.deliver.spoken import finish, imperative, statements
from studio.model.speech import Outline, TalkingPoint

_TURN = re.compile(r",\s*(?:but|although|though)\s+", re.IGNORECASE)
NEAR_S = 6.0
"""Points of a phase this close are spoken of in one breath, and read on from each other."""

Said = tuple[str, TalkingPoint]


@dataclass(slots=True)
class Item:
    """One paragraph: points of one kind spoken of together, and what goes with them.

    Attributes:
        points: Keeps or changes in the order of the talk; empty where a cue or drill stands alone.
        said: (sentence, its point), cleaned.
        cues: (text, point) of the coaching cues.
        drills: (text, point) of the drills.
    """

    points: list[TalkingPoint] = field(default_factory=list)
    said: list[Said] = field(default_factory=list)
    cues: list[Said] = field(default_factory=list)
    drills: list[Said] = field(default_factory=list)

    def named(self) -> list[TalkingPoint]:
        """The points that it is about."""
        return self.points or [point for _, point in (self.cues or self.drills)[:1]]


def gather(outline: Outline, names: tuple[str, ...]) -> tuple[list[Item], list[Item]]:
    """What to keep and what to change, in the order of the talk.

    Args:
        outline: Points on recording time.
        names: Written as given wherever they occur.
    """
    points = sorted(outline.points, key=lambda p: (p.start_s, p.end_s))
    made: dict[str, list[Item]] = {"keep": [], "change": []}
    seen: set[str] = set()
    before: TalkingPoint | None = None
    for point in points:
        items = made["keep" if point.kind == "keep" else "change"]
        if point.kind in made:
            if not (items and before and _together(before, point)):
                items.append(Item())
            items[-1].points.append(point)
            fresh = [s for s in _said(point, points, names) if s not in seen]
            items[-1].said += [(s, point) for s in fresh]
            seen.update(fresh)
        else:
            _attach(point, items, names)
        before = point
    keeps, changes = ([i for i in made[k] if i.said or i.cues or i.drills] for k in made)
    return keeps, changes


def _together(before: TalkingPoint, point: TalkingPoint) -> bool:
    near = point.start_s - before.end_s <= NEAR_S
    return near and (before.kind, before.phase) == (point.kind, point.phase)


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
    text = " ".join(filter(None, (imperative(s, names) for s in statements(point.text, names))))
    if not text:
        return
    fits = (
        [c for c in changes if any(p.topic == point.topic for p in c.named())]
        or [c for c in changes if any(p.phase == point.phase for p in c.named())]
        or changes
    )
    if not fits:
        fits = [Item()]
        changes.append(fits[0])
    (fits[-1].cues if point.kind == "coaching_cue" else fits[-1].drills).append((text, point))
