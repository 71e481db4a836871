"""Which holds the program gets: covers where the coach rests, inserts where nobody stops."""

from __future__ import annotations

from dataclasses import dataclass, replace

from studio.edit.moments import Moment, Passing, Rest
from studio.edit.speech_gaps import between_sentences
from studio.model.speech import Cue, Outline, TalkingPoint

STRAIGHT = 0.7
"""Clip seconds per recording second from which the clip counts as played, not as slowed down."""
APART_S = 8.0
"""Two inserted holds on the same phase closer than this would make the program stutter."""
MOST_SHARE = 0.1
"""Inserted holds may lengthen a recording by a tenth at most."""


@dataclass(frozen=True, slots=True)
class Stop:
    """One hold to be: where on the recording, how much of it it covers, how much it adds.

    Attributes:
        moment: The catch or finish.
        clip_s: The clip frame to freeze; clip time.
        at_s: Where it begins; recording time.
        cover_s: How long it covers the coach's own pause; 0 = it covers nothing.
        insert_s: How much still time it adds at the end of that.
        why: One sentence for the coach.
        beside_s: A second clip moment to show beside the first; None = only one.
        beside_episode: Folder of another episode to show beside it; empty = none.
    """

    moment: Moment
    clip_s: float
    at_s: float
    cover_s: float
    insert_s: float
    why: str
    beside_s: float | None = None
    beside_episode: str = ""

    @property
    def end_s(self) -> float:
        """Where the recording goes on after it; recording time."""
        return self.at_s + self.cover_s


def covers(found: tuple[Rest, ...]) -> list[Stop]:
    """A hold over every rest."""
    return [
        Stop(r.moment, r.clip_s, r.start_s, r.end_s - r.start_s, 0.0,
             f"you rest on the {r.moment.phase} here")
        for r in found
    ]  # fmt: skip


def inserts(
    found: tuple[Passing, ...],
    rested: tuple[Rest, ...],
    outline: Outline | None,
    cues: tuple[Cue, ...],
    *,
    seconds: float,
    recording_s: float,
) -> list[Stop]:
    """Holds to insert: in the first play-through, and at points whose phase nobody stops on.

    Args:
        found: Every moment played straight through.
        rested: Every rest.
        outline: For the talking points; None = there are none.
        cues: Captions on recording time; no hold is inserted in mid-sentence.
        seconds: How long each lasts.
        recording_s: Length of the recording.
    """
    usable = [p for p in found if between_sentences(p.at_s, cues)]
    wanted = _first_play(usable)
    for point in outline.points if outline else ():
        wanted += _at_point(point, usable, rested)
    chosen: list[Stop] = []
    for passing, why in wanted:
        crowded = any(
            s.moment.phase == passing.moment.phase and abs(s.at_s - passing.at_s) < APART_S
            for s in chosen
        )
        if crowded or (len(chosen) + 1) * seconds > MOST_SHARE * recording_s:
            continue
        m = passing.moment
        chosen.append(Stop(m, m.clip_s, passing.at_s, 0.0, seconds, why))
    return chosen


def tidy(stops: list[Stop]) -> list[Stop]:
    """In order and disjoint: still time inside a cover parts it, a second cover gives way."""
    kept: list[Stop] = []
    for stop in sorted(stops, key=lambda s: (s.at_s, -s.cover_s)):
        before = kept[-1] if kept else None
        if before is None or stop.at_s >= before.end_s:
            kept.append(stop)
        elif stop.cover_s == 0:
            kept[-1] = replace(before, cover_s=stop.at_s - before.at_s, insert_s=0.0)
            rest = replace(before, at_s=stop.at_s, cover_s=before.end_s - stop.at_s)
            kept += [stop, rest]
        elif stop.end_s > before.end_s:
            kept.append(replace(stop, at_s=before.end_s, cover_s=stop.end_s - before.end_s))
    return [s for s in kept if s.cover_s > 0 or s.insert_s > 0]


def _first_play(usable: list[Passing]) -> list[tuple[Passing, str]]:
    """Catch and finish of one stroke of the first play-through.

    The second stroke where there are three or more: the eye first gets the rhythm of one.
    """
    by_span: dict[float, list[Passing]] = {}
    for passing in usable:
        if (passing.span.rate or 0) >= STRAIGHT:
            by_span.setdefault(passing.span.start_s, []).append(passing)
    why = "the clip plays straight through for the first time"
    for start in sorted(by_span):
        strokes: dict[int, dict[str, Passing]] = {}
        for passing in by_span[start]:
            strokes.setdefault(passing.moment.stroke, {})[passing.moment.phase] = passing
        whole = [s for _, s in sorted(strokes.items()) if len(s) == 2]
        if whole:
            picked = whole[1] if len(whole) > 2 else whole[0]
            return [(p, why) for p in sorted(picked.values(), key=lambda p: p.at_s)]
    return []


def _at_point(
    point: TalkingPoint, usable: list[Passing], rested: tuple[Rest, ...]
) -> list[tuple[Passing, str]]:
    if point.phase not in ("catch", "finish"):
        return []
    for rest in rested:
        if rest.moment.phase == point.phase and _overlap(rest, point):
            return []
    inside = [
        p
        for p in usable
        if p.moment.phase == point.phase and point.start_s <= p.at_s <= point.end_s + 2
    ]
    return [(p, f"you talk about the {point.phase} and nothing stops on it") for p in inside[:1]]


def _overlap(rest: Rest, point: TalkingPoint) -> bool:
    """Whether a rest falls within three seconds of a talking point."""
    return rest.start_s < point.end_s + 3 and point.start_s - 3 < rest.end_s
