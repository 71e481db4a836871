"""What a sentence is about, and in which phase of the stroke the coach places it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from studio.model.playhead import STATES, Playhead
from studio.model.technique import PHASES, Technique
from studio.speech import lexicon
from studio.speech.lexicon import Plain, find
from studio.speech.talk import Remark

STRENGTHS = {"sure": 3.0, "likely": 1.5, "hint": 0.5}
ENOUGH = 1.5
"""A sentence with less evidence than one likely word names no topic of its own."""
FIRST = 1.5
"""What is named first is rather the subject of the sentence."""
SAID, USUAL, RUNNING, SCREEN, HEADED = 2.0, 1.5, 0.5, 0.7, 1.0
"""Weights of a phase: named; usual for the topic; named before; on the screen, still; a heading."""
STRANGE = 0.6
"""Share of its weight that a named phase keeps where the topic has no business there: "she has to
haul herself all the way up again" speaks of the layback, at the finish."""
WHOLE = 0.3
"""A topic no nearer to any phase than this is of the whole stroke: where its effect is seen is
often named ("all the way up the slide") and is not its phase; a heading or the picture is."""
LEAD, LIKE = 0.16, 5.0
"""Likeness weighs a little between topics that the words name; of a topic without words it counts
from this lead on, where it was right in six of ten sentences, and never settles one alone."""
NEAR_TURN = 0.08
"""Share of a stroke around a catch or finish that counts as the turn itself: 0.2 s at 24 spm."""


def topic_scores(sentence: Plain) -> dict[str, float]:
    """Evidence for each topic in the sentence's own words; absent = none."""
    made: dict[str, float] = {}
    first: dict[str, int] = {}
    for topic in lexicon.topics():
        found = {s: find(lexicon.topic_words(topic, s), sentence) for s in STRENGTHS}
        score = sum(STRENGTHS[s] * min(2, len(where)) for s, where in found.items())
        if score:
            made[topic] = score
        if found["sure"]:
            first[topic] = found["sure"][0][0]
    if first:
        made[min(first, key=lambda t: first[t])] += FIRST
    return made


def evidence(remark: Remark) -> dict[str, float]:
    """Evidence for each topic in a sentence: its words, and what it is like as a whole."""
    made = topic_scores(remark.plain)
    named = any(score >= ENOUGH for score in made.values())
    for topic, near in remark.near.items():
        lead = near if named else near + remark.told.get(topic, 0.0)
        if lead > (0.0 if topic in made else LEAD):
            made[topic] = made.get(topic, 0.0) + LIKE * lead
    return made


def hinted(remark: Remark) -> str:
    """The topic that a sentence hints at most; empty = none."""
    scores = evidence(remark)
    return max(scores, key=lambda t: scores[t]) if scores else ""


def phase_scores(sentence: Plain) -> dict[str, float]:
    """How often each phase is named (at most twice each); of overlapping names the longest."""
    found = [(w, p) for p in PHASES for w in find(lexicon.phase_words(p), sentence)]
    made: dict[str, float] = {}
    taken: list[tuple[int, int]] = []
    for (first, past), phase in sorted(found, key=lambda f: f[0][0] - f[0][1]):
        if all(past <= a or first >= b for a, b in taken):
            taken.append((first, past))
            made[phase] = min(2.0, made.get(phase, 0.0) + 1.0)
    return made


def fitting(
    scores: Mapping[str, float], said: Mapping[str, float], before: str = ""
) -> dict[str, float]:
    """Topic evidence weighed by the phases named, and by what was spoken of just before."""
    made: dict[str, float] = {}
    for topic, score in scores.items():
        usual = lexicon.phases_of(topic)
        fit = max((usual.get(p, 0.0) for p in said), default=0.0)
        made[topic] = (
            score
            + (1.0 * fit if said and score >= ENOUGH else 0.0)
            + (1.0 if topic == before else 0.0)
        )
    return made


def best(scores: Mapping[str, float]) -> str:
    """The topic with the most evidence; empty = not enough for any."""
    if not scores:
        return ""
    topic = max(scores, key=lambda t: scores[t])
    return topic if scores[topic] >= ENOUGH else ""


def place(
    topic: str,
    said: Mapping[str, float],
    running: str | None,
    screen: Mapping[str, float],
    headed: str | None = None,
) -> str | None:
    """The phase of a point; None = the whole stroke.

    Args:
        topic: Of the point.
        said: Phases named in its sentences, with how often.
        running: Phase named last before it, in the same stretch of talk.
        screen: Share of the time that each phase stands still on the screen.
        headed: Phase that a heading put over this stretch of talk.
    """
    usual = lexicon.phases_of(topic)
    if topic and not usual:
        return None
    whole = bool(topic) and max(usual.values()) <= WHOLE
    score = {
        p: _word(usual, p, whole) * min(1.5, said.get(p, 0.0))
        + USUAL * usual.get(p, 0.0)
        + RUNNING * (p == running)
        + SCREEN * screen.get(p, 0.0)
        + HEADED * (p == headed)
        for p in PHASES
    }
    phase = max(PHASES, key=lambda p: score[p])
    return phase if score[phase] >= (1.1 if whole else 0.75) else None


def _word(usual: Mapping[str, float], phase: str, whole: bool) -> float:
    """Weight of naming a phase: less where the topic never belongs to it, none for the whole."""
    if whole:
        return 0.0
    return STRANGE * SAID if usual and phase not in usual and max(usual.values()) >= 1 else SAID


def on_screen(
    playhead: Playhead | None, technique: Technique | None, start_s: float, end_s: float
) -> dict[str, float]:
    """Share of a stretch of recording time during which each phase stands still on the screen."""
    if playhead is None or technique is None or not technique.strokes or end_s <= start_s:
        return {}
    rows = (playhead.recording_s >= start_s) & (playhead.recording_s < end_s)
    if not rows.any():
        return {}
    still = rows & (playhead.state == STATES.index("paused")) & ~np.isnan(playhead.clip_s)
    made: dict[str, float] = {}
    times, counts = np.unique(np.round(playhead.clip_s[still], 2), return_counts=True)
    for clip_s, n in zip(times, counts, strict=True):
        phase = phase_at(technique, float(clip_s))
        if phase:
            made[phase] = made.get(phase, 0.0) + float(n) / float(rows.sum())
    return made


def phase_at(technique: Technique, clip_s: float) -> str | None:
    """The phase at a clip time; a turn and what lies close to it counts as the turn."""
    for stroke in technique.strokes:
        if stroke.catch_s is None or stroke.finish_s is None:
            continue
        after = stroke.next_catch_s
        near = NEAR_TURN * ((after or 2.5 * stroke.finish_s - 1.5 * stroke.catch_s)
                            - stroke.catch_s)  # fmt: skip
        turns = [(stroke.catch_s, "catch"), (stroke.finish_s, "finish")]
        turns += [(after, "catch")] if after is not None else []
        for turn_s, name in turns:
            if abs(clip_s - turn_s) <= near:
                return name
        if stroke.catch_s < clip_s < stroke.finish_s:
            return "drive"
        if after is not None and stroke.finish_s < clip_s < after:
            return "recovery"
    return None


def opens(remark: Remark, before: Sequence[Remark]) -> bool:
    """Whether a sentence starts a new stretch of talk: a turn of speech, or another part."""
    if not before:
        return True
    was = before[-1].part
    return (remark.turns and remark.part in ("keep", "change")) or (
        remark.part != was and {remark.part, was} != {"change", "coaching_cue"}
        and remark.part not in ("coaching_cue", "drill", "aside", "advice")
    )  # fmt: skip
