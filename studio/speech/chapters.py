"""Chapters: where a viewer may want to jump to, with titles in a coach's plain words.

The cuts are those with the most worth under the rules, found by dynamic programming: each place
where the talk turns to another part, phase or topic has a worth, each chapter a cost by length.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from studio.model.speech import Chapter
from studio.speech import lexicon
from studio.speech.points import Draft
from studio.speech.talk import Remark

SHORTEST_S = 10
"""A chapter lasts at least this long as printed, in whole seconds."""
USUAL_S = 20.0
"""Below this a chapter costs; over the talk no more than one per this long."""
LONG_S = 60.0
"""Above this a chapter costs a little: one topic seldom takes longer."""
TITLE_CHARS = 49
EACH = 1.2
"""What each further chapter costs: more than a new topic alone is worth."""
UNMARKED = 0.65
"""Share of its worth that a change keeps where no turn of speech marks it; taking the picture to
another moment is such a turn."""
AHEAD = 6
"""Sentences within which an opening remark finds the point that it opens."""
SETS_OFF = 5
"""A phase named within so many words is where the sentence sets off."""
PRAISE_SHARES = 0.6
"""Several things that work share a chapter more readily than several faults."""
_GROUP = {"intro": "intro", "background": "background", "keep": "keep", "change": "change",
          "coaching_cue": "change", "drill": "change", "recap": "recap",
          "outro": "outro"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cut:
    """A place where a chapter may begin: recording time and its worth."""

    at_s: float
    worth: float


def find_chapters(
    remarks: Sequence[Remark], drafts: Sequence[Draft], end_s: float
) -> tuple[Chapter, ...]:
    """Chapters from 0 to `end_s`, without gaps; recording time."""
    cuts = _cuts(remarks, drafts, end_s)
    starts = _choose(cuts, end_s)
    ends = [*starts[1:], end_s]
    titles: set[str] = set()
    made: list[Chapter] = []
    for start, end in zip(starts, ends, strict=True):
        chapter = _chapter(remarks, drafts, start, end, titles)
        titles.add(chapter.title)
        made.append(chapter)
    return tuple(made)


def _cuts(remarks: Sequence[Remark], drafts: Sequence[Draft], end_s: float) -> list[Cut]:
    """Every sentence that may open a chapter, in order; the first is at 0."""
    owner = {id(r): d for d in drafts for r in d.remarks}
    made = [Cut(0.0, 0.0)]
    group, draft = "", None
    for i, remark in enumerate(remarks):
        if remark.part in ("aside", "advice", "coaching_cue", "drill"):
            draft = owner.get(id(remark), draft)
            continue
        ahead = (owner[id(r)] for r in remarks[i : i + AHEAD] if id(r) in owner)
        coming = next(ahead, None)
        worth = _worth(group, remark, draft, coming) if group else 0.0
        if worth > 0 and made[-1].at_s < remark.sentence.start_s < end_s - SHORTEST_S:
            made.append(Cut(remark.sentence.start_s, worth))
        group, draft = remark.part, owner.get(id(remark), draft)
    return made


def _worth(before: str, remark: Remark, was: Draft | None, coming: Draft | None) -> float:
    """What a cut before a sentence is worth, by how much changes there."""
    now = remark.part
    body = ("keep", "change")
    if now not in body:
        worth = {"recap": 4.0, "outro": 0.8, "background": 0.7 + 1.2 * remark.turns}.get(now, 0.5)
        return worth if now != before else 0.0
    if before not in body:
        return 4.0
    new_phase = was is None or coming is None or was.phase != coming.phase
    new_topic = was is None or coming is None or was.topic != coming.topic
    flips = before != now
    if not (new_phase or new_topic or flips or remark.plans):
        return 0.0
    worth = 1.2 * new_phase + 0.8 * new_topic + 0.8 * flips + 0.6 * remark.turns
    worth += 0.6 * (remark.hits["header"] > 0) + 1.5 * remark.plans
    if was is not None and was.kind in ("coaching_cue", "drill"):
        worth += 0.4
    worth += 0.4 * (remark.hits["moving"] > 0 and not remark.turns)
    placed = new_phase and coming is not None and _names_first(remark, coming.phase)
    worth += 0.6 * placed
    if not (remark.turns or remark.plans or remark.hits["moving"] or placed):
        worth *= UNMARKED
    shares = before == now == "keep" and not remark.hits["header"]
    return worth * (PRAISE_SHARES if shares else 1.0)


def _names_first(remark: Remark, phase: str | None) -> bool:
    """Whether a sentence sets off by naming a phase: "Up at the front you wait"."""
    if phase is None:
        return False
    found = lexicon.find(lexicon.phase_words(phase), remark.plain)
    return any(first < SETS_OFF for first, _ in found)


def _cost(length_s: float) -> float:
    """What a chapter of this length costs; each one costs something, or there would be too many."""
    short = max(0.0, USUAL_S - length_s) / (USUAL_S - SHORTEST_S)
    return EACH + 1.5 * short + max(0.0, length_s - LONG_S) / 40.0


def _choose(cuts: Sequence[Cut], end_s: float) -> list[float]:
    """Starts of the best chapters: printed at least `SHORTEST_S` long, not too many."""
    most = max(3, int(end_s // USUAL_S))
    best: dict[tuple[int, int], tuple[float, tuple[int, int] | None]] = {(0, 1): (0.0, None)}
    for j in range(1, len(cuts)):
        for i in range(j):
            if math.floor(cuts[j].at_s) - math.floor(cuts[i].at_s) < SHORTEST_S:
                continue
            for n in range(1, most):
                if (i, n) not in best:
                    continue
                score = best[i, n][0] + cuts[j].worth - _cost(cuts[j].at_s - cuts[i].at_s)
                if (j, n + 1) not in best or score > best[j, n + 1][0]:
                    best[j, n + 1] = (score, (i, n))
    ends = {
        key: value[0] - _cost(end_s - cuts[key[0]].at_s)
        for key, value in best.items()
        if key[0] == 0 or math.floor(end_s) - math.floor(cuts[key[0]].at_s) >= SHORTEST_S
    }
    wanted = {k: v for k, v in ends.items() if k[1] >= 3} or ends
    key: tuple[int, int] | None = max(wanted, key=lambda k: wanted[k])
    starts: list[float] = []
    while key is not None:
        starts.append(round(cuts[key[0]].at_s, 3))
        key = best[key][1]
    return starts[::-1]


def _chapter(
    remarks: Sequence[Remark], drafts: Sequence[Draft], start: float, end: float, taken: set[str]
) -> Chapter:
    held = [r for r in remarks if start <= r.sentence.start_s + 0.02 and r.sentence.start_s < end]
    points = [d for d in drafts if start <= d.start_s + 0.02 and d.start_s < end - 0.02]
    kind = _kind(held)
    about = [d for d in points if d.kind in ("keep", "change")] or points
    phase = _phase(about) if kind in ("keep", "change") else None
    return Chapter(start, end, _title(kind, phase, about, taken), phase, kind)


def _kind(remarks: Sequence[Remark]) -> str | None:
    times: dict[str, float] = {}
    for remark in remarks:
        group = _GROUP.get(remark.part)
        if group:
            length = remark.sentence.end_s - remark.sentence.start_s
            times[group] = times.get(group, 0.0) + length
    if not times:
        return None
    if times.get("recap") and times.get("outro"):
        times["recap"] += times.pop("outro")
    if times.get("intro") and times.get("background"):
        times["intro"] += times.pop("background")
    return max(times, key=lambda k: times[k])


def _phase(points: Sequence[Draft]) -> str | None:
    times: dict[str | None, float] = {}
    for point in points:
        times[point.phase] = times.get(point.phase, 0.0) + point.end_s - point.start_s
    if not times:
        return None
    phase = max(times, key=lambda p: times[p])
    return phase if times[phase] >= 0.6 * sum(times.values()) else None


def _title(kind: str | None, phase: str | None, points: Sequence[Draft], taken: set[str]) -> str:
    words = lexicon.table()["title"]
    if kind not in ("keep", "change") or not points:
        return _fresh(str(words["plain"].get(kind or "none")), taken)
    head = phase.capitalize() if phase else str(words["opening"][kind])
    if phase is None:
        points = [d for d in points if d.kind == kind] or points
    phrases: list[str] = []
    for point in sorted(points, key=lambda d: d.kind != kind):
        phrase = _phrase(point)
        if phrase not in phrases:
            phrases.append(phrase)
    made = f"{head}: {phrases[0]}"
    if len(phrases) > 1:
        for last in phrases[1:]:
            longer = f"{head}: {phrases[0]}, {last}"
            if len(longer) <= TITLE_CHARS:
                made = longer
                break
    return _fresh(made, taken)


def _phrase(point: Draft) -> str:
    """The point in a few words; how it errs only where the coach's words say so."""
    row = lexicon.table()["title"].get(point.topic, {})
    if point.kind == "keep":
        return str(row.get("keep", f"good {point.topic}"))
    for pattern, phrase in row.get("change", []):
        if any(lexicon.find((pattern,), r.plain) for r in point.remarks):
            return str(phrase)
    return str(row.get("other", point.topic))


def _fresh(title: str, taken: set[str]) -> str:
    """A title no other chapter has."""
    made = title
    number = 2
    while made in taken:
        made = f"{title[: TITLE_CHARS - 3]} {number}"
        number += 1
    return made[:TITLE_CHARS]
