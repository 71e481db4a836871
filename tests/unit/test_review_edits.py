"""Edits on the coach's files: amended instead of stacked, comments kept, always valid."""

import tomllib

import pytest
from hypothesis import given, settings as tries, strategies as st

from studio.config import Corrections
from studio.errors import ConfigError
from studio.review.edits import HEADER, Documents, apply
from studio.review.sheet import EditError

EPISODE = """\
# our episode
[sources]
clip = "clip.mp4"  # the clip

[athlete]
alias = "Tobias"  # invented
"""
NONE = Documents("", EPISODE)


def after(*steps, start=NONE):
    docs = start
    for op, args in steps:
        docs, _ = apply(docs, op, args)
    return docs


def corrected(*steps, start=NONE) -> Corrections:
    return after(*steps, start=start).read()[1]


def test_a_catch_moved_twice_is_one_correction_and_moved_back_is_none():
    once = ("move_event", {"event": "catch", "from_s": 1.0, "to_s": 1.2})
    again = ("move_event", {"event": "catch", "from_s": 1.2, "to_s": 1.3})
    back = ("move_event", {"event": "catch", "from_s": 1.3, "to_s": 1.0})
    (event,) = corrected(once, again).events
    assert (event.event, event.from_s, event.to_s) == ("catch", 1.0, 1.3)
    assert corrected(once, again, back).events == ()


def test_a_finish_at_the_same_time_is_another_thing_than_a_catch():
    docs = after(
        ("move_event", {"event": "catch", "from_s": 1.0, "to_s": 1.2}),
        ("move_event", {"event": "finish", "from_s": 1.2, "to_s": 1.4}),
    )
    assert [e.event for e in docs.read()[1].events] == ["catch", "finish"]


def test_chapters_renamed_moved_and_removed_leave_the_last_word_only():
    rename = ("rename_chapter", {"recording_s": 30.0, "title": "The catch"})
    move = ("move_chapter", {"recording_s": 30.0, "to_s": 33.0})
    retitle = ("rename_chapter", {"recording_s": 33.0, "title": "At the catch"})
    fixes = corrected(rename, move, retitle).chapters
    assert [(f.action, f.recording_s, f.title, f.to_s) for f in fixes] == [
        ("rename", 30.0, "At the catch", None),
        ("move", 30.0, "", 33.0),
    ]
    assert corrected(move, retitle).chapters == fixes  # a move comes last, however it was clicked
    remove = ("remove_chapter", {"recording_s": 33.0})
    (fix,) = corrected(rename, move, remove).chapters
    assert (fix.action, fix.recording_s) == ("remove", 30.0)
    restore = ("restore", {"what": "chapters", "recording_s": 30.0})
    assert corrected(rename, move, remove, restore).chapters == ()


def test_an_added_hold_is_moved_set_and_dropped_as_itself():
    add = ("add_hold", {"recording_s": 10.0, "phase": "catch", "seconds": 2.5})
    move = ("move_hold", {"recording_s": 10.0, "to_s": 11.0})
    longer = ("lengthen_hold", {"recording_s": 11.0, "seconds": 4})
    (hold,) = corrected(add, move, longer).holds
    assert (hold.action, hold.recording_s, hold.seconds) == ("add", 11.0, 4)
    assert corrected(add, move, longer, ("drop_hold", {"recording_s": 11.0})).holds == ()


def test_caption_changes_add_up_and_taken_back_they_vanish():
    text = ("caption", {"recording_s": 5.0, "changes": {"text": "Shins vertical."}})
    time = ("caption", {"recording_s": 5.0, "changes": {"start_s": 5.2, "end_s": 7}})
    (fix,) = corrected(text, time).captions
    assert (fix.text, fix.start_s, fix.end_s) == ("Shins vertical.", 5.2, 7)
    none = {"text": None, "start_s": None, "end_s": None}
    assert corrected(text, time, ("caption", {"recording_s": 5.0, "changes": none})).captions == ()


def test_hand_written_comments_outlive_every_edit():
    mine = """\
# my notes
[[events]]  # the first
event = "catch"
from_s = 1.0
to_s = 1.2
# why: the camera shook

# about the chapters
[[chapters]]
action = "rename"
recording_s = 3.0
title = "One"  # shorter

# the last word
"""
    docs = after(
        ("move_event", {"event": "catch", "from_s": 1.2, "to_s": 1.0}),  # takes the event out
        ("rename_chapter", {"recording_s": 3.0, "title": "Two"}),
        ("judge_finding", {"code": "x", "verdict": "reject"}),
        ("judge_finding", {"code": "x", "verdict": ""}),
        start=Documents(mine, EPISODE),
    )
    for comment in ("# my notes", "# why: the camera shook", "# about the chapters", "# shorter",
                    "# the last word"):  # fmt: skip
        assert comment in docs.corrections
    assert docs.read()[1].events == ()


def test_inline_arrays_of_a_coach_who_writes_so_are_kept_up():
    mine = 'words = [{heard = "catchy", text = "catch"}]\n'
    docs = after(("fix_word", {"heard": "lay back", "text": "layback"}),
                 start=Documents(mine, EPISODE))  # fmt: skip
    assert [w.text for w in docs.read()[1].words] == ["catch", "layback"]


def test_settings_go_to_the_episode_file_with_its_comments():
    docs = after(("setting", {"name": "athlete.height_cm", "value": 181}),
                 ("setting", {"name": "athlete.consent", "value": "yes"}))  # fmt: skip
    assert docs.corrections == ""
    assert "# invented" in docs.episode
    read = docs.read()[0].athlete
    assert (read.alias, read.height_cm, read.consent) == ("Tobias", 181, "yes")


@pytest.mark.parametrize(
    ("op", "args"),
    [
        ("nothing", {}),
        ("move_event", {"event": "catch", "from_s": 1.0}),
        ("move_event", {"event": "stretch", "from_s": 1.0, "to_s": 2.0}),
        ("move_event", {"event": "catch", "from_s": float("nan"), "to_s": 2.0}),
        ("move_event", {"event": "catch", "from_s": 1.0, "to_s": -1.0}),
        ("caption", {"recording_s": 1.0, "changes": {"start_s": 3, "end_s": 2}}),
        ("caption", {"recording_s": 1.0, "changes": {"colour": "red"}}),
        ("caption", {"recording_s": 1.0, "changes": {"text": 7}}),
        ("rename_chapter", {"recording_s": 1.0, "title": "  "}),
        ("lengthen_hold", {"recording_s": 1.0, "seconds": 400}),
        ("setting", {"name": "sources.clip", "value": "/etc/passwd"}),
        ("setting", {"name": "athlete.height_cm", "value": 7}),
        ("setting", {"name": "athlete.consent", "value": "perhaps"}),
        ("judge_finding", {"code": "x", "verdict": "maybe"}),
    ],
)
def test_what_makes_no_sense_is_refused_and_changes_nothing(op, args):
    with pytest.raises((EditError, ConfigError)):
        apply(NONE, op, args)


TIMES = st.integers(0, 30).map(lambda n: n / 4)
STEPS = st.one_of(
    st.tuples(st.just("move_event"), st.fixed_dictionaries(
        {"event": st.sampled_from(["catch", "finish"]), "from_s": TIMES, "to_s": TIMES})),
    st.tuples(st.just("wrong_stroke"), st.fixed_dictionaries(
        {"catch_s": TIMES, "wrong": st.booleans()})),
    st.tuples(st.just("caption"), st.fixed_dictionaries(
        {"recording_s": TIMES, "changes": st.dictionaries(
            st.sampled_from(["text"]), st.none() | st.text(max_size=8))})),
    st.tuples(st.just("add_chapter"), st.fixed_dictionaries(
        {"recording_s": TIMES, "title": st.text(max_size=6)})),
    st.tuples(st.just("move_chapter"), st.fixed_dictionaries(
        {"recording_s": TIMES, "to_s": TIMES})),
    st.tuples(st.just("remove_chapter"), st.fixed_dictionaries({"recording_s": TIMES})),
    st.tuples(st.just("summary"), st.fixed_dictionaries(
        {"part": st.sampled_from(["post", "markdown"]), "text": st.text(max_size=20)})),
    st.tuples(st.just("judge_finding"), st.fixed_dictionaries(
        {"code": st.sampled_from("ab"), "verdict": st.sampled_from(["", "accept", "reject"])})),
)  # fmt: skip


@tries(max_examples=25, deadline=None)
@given(st.lists(STEPS, max_size=10))
def test_whatever_is_clicked_the_file_stays_valid_toml_with_its_heading(steps):
    """Python's own tomllib (TOML 1.0), not the library that wrote it, is the judge."""
    docs = NONE
    for op, args in steps:
        docs, _ = apply(docs, op, args)
        tomllib.loads(docs.corrections)
        docs.read()
        assert docs.corrections.startswith(HEADER.strip())


def test_a_text_comes_back_as_it_was_typed():
    typed = 'Two lines,\nwith "quotes", \\ and """three""", and a tab\t.'
    assert corrected(("summary", {"part": "post", "text": typed})).summary.post == typed
