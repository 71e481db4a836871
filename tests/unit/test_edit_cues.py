"""Captions through holds, and plans that contradict themselves."""

from dataclasses import replace
from fractions import Fraction

import pytest

from studio.edit.cues import program_cues
from studio.edit.shots import Clock
from studio.edit.speech_gaps import between_sentences
from studio.edit.validate import validate
from studio.errors import PlanError
from studio.model.plan import Hold, Shot
from tests.edit_scene import cue, make_plan, media

F = Fraction


def through(cues, at, length, total=20):
    """Captions on program time with one hold of `length` inserted at recording time `at`."""
    shots = (
        Shot("recording", F(0), F(at), F(0), F(1), "source"),
        Shot("hold", F(at), F(length), F(at), F(0), "room"),
        Shot("recording", F(at) + F(length), F(total) - F(at), F(at), F(1), "source"),
    )
    hold = Hold("catch", 0, 1.0, F(at), F(length), True, "a test")
    return [(c.start_ms, c.end_ms, c.lines) for c in program_cues(cues, Clock(shots), [hold])]


def test_a_caption_that_a_hold_falls_into_stays_through_it():
    assert through([cue(1, 4)], 2, 2.5) == [(1000, 6500, ("A word or two.",))]


def test_a_caption_that_would_stay_too_long_is_shared_out():
    lines = ("one two three four five", "six seven eight nine ten")
    got = through([cue(1, 7, *lines)], 4, 2.5)
    assert got == [(1000, 4000, (lines[0],)), (6500, 9500, (lines[1],))]


@pytest.mark.parametrize(
    ("start", "end", "expected"), [(1.8, 4, (4500, 6500)), (1, 2.2, (1000, 2000))]
)
def test_a_hold_at_a_captions_edge_cuts_nothing_off(start, end, expected):
    assert through([cue(start, end)], 2, 2.5)[0][:2] == expected


def test_captions_beside_a_hold_keep_their_length():
    got = through([cue(0, 2), cue(2, 4)], 2, 2.5)
    assert [g[:2] for g in got] == [(0, 2000), (4500, 6500)]


def test_a_caption_gives_way_to_the_next():
    got = through([cue(3, 6), cue(5, 7), cue(5, 8, "last")], 2, 0)
    assert got == [(3000, 5000, ("A word or two.",)), (5000, 8000, ("last",))]


def test_sentences_are_told_apart_by_their_stops():
    cues = (cue(1, 2, "Half a"), cue(2.1, 3, "sentence."), cue(3.2, 4, "Another."))
    assert not between_sentences(1.5, cues)
    assert not between_sentences(2.05, cues)
    assert between_sentences(3.1, cues)
    assert between_sentences(0.5, cues)
    assert between_sentences(4.5, cues)


def broken(plan):
    first = plan.shots[0]
    yield replace(plan, shots=()), "no shots"
    yield replace(plan, duration_s=plan.duration_s + 1), "its shots last"
    late = replace(first, program_start_s=F(1))
    yield replace(plan, shots=(late, *plan.shots[1:])), "leaves a gap"
    twice = replace(plan.shots[1], program_start_s=F(0))
    yield replace(plan, shots=(first, twice, *plan.shots[2:])), "overlaps"
    yield replace(plan, shots=(replace(first, kind="other"), *plan.shots[1:])), "no known kind"
    yield replace(plan, shots=(replace(first, source_start_s=F(99)), *plan.shots[1:])), "outside"
    yield replace(plan, shots=(replace(first, speed=F(2)), *plan.shots[1:])), "speed of the voice"
    yield replace(plan, shots=(replace(first, speed=F(0)), *plan.shots[1:])), "at no speed"
    yield replace(plan, frame_rate=F(7, 3)), "whole frames"
    yield replace(plan, cues=(cue(0, 99),)), "caption after its end"
    yield replace(plan, cues=(cue(0, 2), cue(1, 3))), "overlapping captions"
    yield replace(plan, holds=(replace(plan.holds[0], duration_s=F(9)),)), "not among the shots"


def test_every_contradiction_is_refused():
    plan = make_plan()
    files = {"recording": media(seconds=10), "clip": media("clip.mp4", 3, sound=False)}
    validate(plan, **files)
    for wrong, message in broken(plan):
        with pytest.raises(PlanError, match=message):
            validate(wrong, **files)
    with pytest.raises(PlanError, match="no sound"):
        validate(plan, recording=media(seconds=10, sound=False), clip=files["clip"])
