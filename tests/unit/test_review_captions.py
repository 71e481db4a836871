"""Splits and merges of captions, in any order; corrections whose caption is gone."""

import tomllib
from itertools import pairwise

import pytest
from hypothesis import given, settings as tries, strategies as st

from studio.config import CaptionFix
from studio.model.speech import Cue
from studio.review.desk import Desk
from studio.review.edits import Documents, apply
from studio.speech.caption_fixes import groups
from studio.speech.captions import with_fixes
from tests import review_scene

CUES = (
    Cue(1000, 3000, ("Hello there.",)),
    Cue(3000, 6000, ("Hands away first, and", "then the body.")),
    Cue(8000, 9000, ("Good.",)),
)


def shown(*fixes):
    return [(c.start_ms, c.end_ms, " ".join(c.lines)) for c in with_fixes(CUES, fixes, 37)]


def test_every_new_line_begins_a_caption_that_shares_the_stretch_by_its_letters():
    made = shown(CaptionFix(3.0, text="Hands away\nfirst, and then\n\n the  body."))
    assert [text for *_, text in made[1:4]] == ["Hands away", "first, and then", "the body."]
    # 11, 16 and 10 letters with their spaces, of 37, over 3 s
    assert [start for start, *_ in made[1:4]] == pytest.approx(
        [3000, 3000 + 3000 * 11 / 37, 3000 + 3000 * 27 / 37], abs=1
    )
    assert [end for _, end, _ in made[1:4]] == [*(start for start, *_ in made[2:4]), 6000]


def test_three_become_one_and_two_again_elsewhere():
    joined = CaptionFix(1.0, join_next=True), CaptionFix(3.0, join_next=True)
    whole = "Hello there. Hands away first, and then the body. Good."
    assert " ".join(text for *_, text in shown(*joined)) == whole
    assert [len(g.cues) for g in groups(CUES, joined)] == [3]
    cut = CaptionFix(1.0, join_next=True, text=whole.replace(". Good", ".\nGood"))
    rest = CaptionFix(3.0, join_next=True, text=""), CaptionFix(8.0, text="")
    made = shown(cut, *rest)
    assert made[-1] == (8000, 9000, "Good.")  # said when it was said, for all that was merged
    assert made[-2][1] == 6000
    assert shown(CaptionFix(1.0, join_next=True), CaptionFix(3.0, text="a\nb"))[0][2] == (
        "Hello there. a"
    )


def test_a_merged_caption_ends_where_the_coach_says():
    assert shown(CaptionFix(1.0, join_next=True, end_s=5.0))[0][:2] == (1000, 5000)
    assert shown(CaptionFix(1.0, join_next=True), CaptionFix(3.0, end_s=5.5))[0][:2] == (1000, 5500)


def test_two_corrections_of_one_caption_add_up():
    made = shown(CaptionFix(3.0, start_s=3.5), CaptionFix(3.1, text="New."))
    assert made[1] == (3500, 6000, "New.")


def test_the_older_cut_by_letters_still_counts_and_may_be_cut_again():
    once = CaptionFix(3.0, split_at=17)
    assert [text for *_, text in shown(once)[1:3]] == ["Hands away first,", "and then the body."]
    (group,) = [g for g in groups(CUES, (once,)) if g.fixes != (None,)]
    again = CaptionFix(3.0, text="\n".join(group.parts).replace("then ", "then\n"))
    assert len(shown(again)) == len(shown(once)) + 1


EPISODE = '[sources]\nclip = "clip.mp4"\n'
TEXT = " ".join(line for cue in CUES for line in cue.lines)


def split(docs, group, word):
    """As the page does: the first of the captions merged has the text, the others none."""
    words = "\n".join(group.parts).replace("\n", " \n ").split(" ")
    text = " ".join([*words[:word], "\n", *words[word:]])
    at = [cue.start_ms / 1000 for cue in group.cues]
    args = {"recording_s": at[0], "changes": {"text": text, "split_at": None},
            "also": [[s, {"text": ""}] for s in at[1:]]}  # fmt: skip
    return apply(docs, "caption", args)[0]


def merge(docs, group):
    last_s = group.cues[-1].start_ms / 1000
    return apply(docs, "caption", {"recording_s": last_s, "changes": {"join_next": True}})[0]


@tries(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.booleans(), st.integers(0, 9), st.integers(1, 9)), max_size=8))
def test_whatever_is_split_and_merged_no_word_is_lost_or_moved(steps):
    docs = Documents("", EPISODE)
    for splits, which, word in steps:
        fixes = docs.read()[1].captions
        found = groups(CUES, fixes)
        group = found[which % len(found)]
        before = len("\n".join(group.parts).splitlines())
        docs = split(docs, group, word) if splits else merge(docs, group)
        tomllib.loads(docs.corrections)
        made = with_fixes(CUES, docs.read()[1].captions, 37)
        assert " ".join(line for cue in made for line in cue.lines) == TEXT
        assert all(a.end_ms <= b.start_ms for a, b in pairwise(made))
        if splits and before == 1 and word < len(group.parts[0].split()):
            after = groups(CUES, docs.read()[1].captions)[which % len(found)]
            assert len(after.parts) == 2


def test_lines_stand_as_lines_in_the_file():
    docs, _ = apply(Documents("", EPISODE), "caption",
                    {"recording_s": 3.0, "changes": {"text": 'One,\n"two".'}})  # fmt: skip
    assert 'text = """One,\n"two"."""' in docs.corrections
    assert docs.read()[1].captions[0].text == 'One,\n"two".'


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return review_scene.build(tmp_path_factory.mktemp("captions") / "episode")


def test_a_correction_whose_caption_is_gone_deserves_a_look_until_it_is_taken_out(made):
    text = '[[captions]]\nrecording_s = 90.0\ntext = "Nobody says this."\n'
    (made / "corrections.toml").write_text(text)
    desk = Desk(made)
    state = desk.state()
    assert state["lost_captions"] == [{"recording_s": 90.0, "text": "Nobody says this."}]
    (look,) = [a for a in state["attention"] if "Nobody says this." in a["text"]]
    assert (look["panel"], look["clock"], look["time_s"]) == ("captions", "recording", 90.0)
    assert look["key"] == "lost:90.000"
    desk.edit(desk.journal.revision(), "caption",
              {"recording_s": 90.0, "changes": {"text": None}})  # fmt: skip
    state = desk.state()
    assert state["lost_captions"] == []
    assert not any("Nobody says this." in a["text"] for a in state["attention"])


def test_a_correction_that_finds_its_caption_is_not_listed(made):
    (made / "corrections.toml").unlink(missing_ok=True)
    desk = Desk(made)
    row = desk.state()["captions"][0]
    desk.edit(desk.journal.revision(), "caption",
              {"recording_s": row["key_s"], "changes": {"text": "Hello."}})  # fmt: skip
    assert desk.state()["lost_captions"] == []
