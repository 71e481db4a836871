"""A stroke that the analysis missed, added by the coach: from the file to the measures."""

from dataclasses import replace

import numpy as np
import pytest

from studio.config import AddedStroke, Corrections, Settings, WrongStroke, load_corrections
from studio.errors import ConfigError
from studio.review.edits import Documents, apply
from studio.review.sheet import EditError
from studio.stages import STAGES
from studio.technique.analyse import analyse
from tests.technique_rower import media, rower

EPISODE = '[sources]\nclip = "clip.mp4"\n'


def strokes_of(pose, **corrections):
    return analyse(pose, media(), Settings(), Corrections(**corrections)).strokes


def hidden_from(pose, start_s, end_s):
    """The pose track of a rower who is out of sight for a while; clip time."""
    gone = (pose.time_s >= start_s) & (pose.time_s <= end_s)
    xy, score = pose.xy_px.copy(), pose.score.copy()
    xy[gone], score[gone] = np.nan, 0
    return replace(pose, xy_px=xy, score=score)


def test_a_stroke_out_of_sight_is_missed_and_counts_once_it_is_added():
    pose, truth = rower()
    catch_s, finish_s = truth.catches_s[1], truth.finishes_s[1]
    pose = hidden_from(pose, catch_s - 0.2, finish_s + 0.2)
    assert all(abs((s.catch_s or 0) - catch_s) > 0.3 for s in strokes_of(pose))
    added = strokes_of(pose, added_strokes=(AddedStroke(catch_s, finish_s),))
    assert len(added) == len(truth.catches_s)
    stroke = added[1]
    assert (stroke.catch_s, stroke.finish_s) == (catch_s, finish_s)
    assert stroke.complete
    assert stroke.next_catch_s == pytest.approx(truth.catches_s[2], abs=0.02)
    assert 60 / (stroke.next_catch_s - stroke.catch_s) == pytest.approx(24, rel=0.02)  # as drawn


def test_turns_of_it_that_were_seen_are_not_doubled():
    pose, truth = rower()
    near = AddedStroke(truth.catches_s[2] - 0.1, truth.finishes_s[2] + 0.1)
    found = strokes_of(pose, added_strokes=(near,))
    assert len(found) == len(truth.catches_s)
    assert (found[2].catch_s, found[2].finish_s) == (near.catch_s, near.finish_s)
    assert found[1].next_catch_s == near.catch_s


def test_a_stroke_struck_out_may_be_added_better():
    pose, truth = rower()
    better = AddedStroke(truth.catches_s[1] + 0.05, truth.finishes_s[1])
    found = strokes_of(pose, wrong_strokes=(WrongStroke(truth.catches_s[1]),),
                       added_strokes=(better,))  # fmt: skip
    assert found[1].catch_s == better.catch_s
    assert len(found) == len(truth.catches_s)


def test_the_stage_is_made_again_when_a_stroke_is_added():
    (stage,) = [s for s in STAGES if s.name == "technique"]
    assert "added_strokes" in stage.corrections


def edited(*steps):
    docs = Documents("", EPISODE)
    for op, args in steps:
        docs, _ = apply(docs, op, args)
    return docs


ADD = ("add_stroke", {"catch_s": 3.0, "finish_s": 4.0})


def test_it_is_readable_in_the_file():
    text = edited(ADD).corrections
    assert "[[added_strokes]]\ncatch_s = 3.0\nfinish_s = 4.0\n" in text


def test_moved_it_goes_itself_and_struck_out_it_is_gone():
    moved = edited(ADD, ("move_event", {"event": "catch", "from_s": 3.0, "to_s": 3.1}),
                   ("move_event", {"event": "finish", "from_s": 4.0, "to_s": 3.9}))  # fmt: skip
    corrections = moved.read()[1]
    assert corrections.added_strokes == (AddedStroke(3.1, 3.9),)
    assert corrections.events == ()
    struck, _ = apply(moved, "wrong_stroke", {"catch_s": 3.1, "wrong": True})
    assert struck.read()[1] == Corrections()


@pytest.mark.parametrize(
    "steps",
    [
        [("add_stroke", {"catch_s": 4.0, "finish_s": 4.0})],
        [("add_stroke", {"catch_s": -1.0, "finish_s": 4.0})],
        [ADD, ("move_event", {"event": "finish", "from_s": 4.0, "to_s": 2.0})],
    ],
)
def test_a_finish_before_its_catch_is_refused_at_the_desk(steps):
    with pytest.raises((EditError, ConfigError)):
        edited(*steps)


def test_a_finish_before_its_catch_is_refused_in_the_file(tmp_path):
    (tmp_path / "corrections.toml").write_text("added_strokes = [{catch_s = 2, finish_s = 1}]\n")
    with pytest.raises(ConfigError, match=r"corrections\.toml: the finish of added_strokes number"):
        load_corrections(tmp_path)
