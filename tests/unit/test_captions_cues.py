"""Captions: BBC Subtitle Guidelines (sections 3.1, 3.3, 3.4, 4, 4.5, 5.2) and the coach's fixes."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from studio.config import CaptionFix, CaptionSettings, Corrections, Settings, WordFix
from studio.model.plan import EditPlan, Shot
from studio.model.speech import Cue, Transcript, Word
from studio.speech import breaks
from studio.speech.caption_report import on_program, report
from studio.speech.captions import make_cues, partition, with_fixes
from studio.speech.cue_times import Spoken, times
from studio.speech.sentences import split, spread

TALK = [
    ("Hello, and welcome to the review.", 1.0, 3.2),
    ("He filmed it square on, from the side, and the camera is nice and still.", 3.9, 8.2),
    ("Here's the cue: body over early, and then leave it alone.", 12.0, 15.4),
    ("Good.", 15.9, 16.2),
    ("So pause for a second when the hands have passed the knees, check that you've rocked over, "
     "and only then come up the slide.", 18.0, 26.0),
]  # fmt: skip


def talk(rows=TALK):
    words = tuple(w for text, start, end in rows for w in spread(text, start, end))
    return Transcript("en", words, split(words), "test")


def cues_of(rows=TALK, max_chars=37, fixes=Corrections()):  # noqa: B008 - frozen
    return make_cues(talk(rows), Settings(captions=CaptionSettings(max_chars)), fixes)


def text_of(cues):
    return " ".join(" ".join(c.lines) for c in cues)


def rule(made, name):
    return next(r for r in made["rules"] if r["rule"] == name)


@pytest.mark.parametrize("max_chars", [37, 42, 25])
def test_every_word_in_order_and_no_rule_broken(max_chars):
    cues = cues_of(max_chars=max_chars)
    assert text_of(cues) == " ".join(row[0] for row in TALK)
    made = report(cues, max_chars=max_chars, words=talk().words)
    assert {r["rule"]: r["breaking"] for r in made["rules"] if r["breaking"]} == {}


def test_a_fast_coach_is_followed_verbatim_and_reported():
    rows = [(" ".join(["and the legs push on"] * 12) + ".", 1.0, 11.0)]
    cues = cues_of(rows)
    assert text_of(cues) == rows[0][0]
    made = rule(report(cues, max_chars=37, words=talk(rows).words), "words a minute")
    assert made["breaking"] > 0
    assert all(place["value"] > 180 for place in made["where"])
    assert made["unavoidable"] > 0


def test_gaps_are_none_or_a_second():
    cues = cues_of()
    gaps = [b.start_ms - a.end_ms for a, b in pairwise(cues)]
    assert all(gap == 0 or gap >= 1000 for gap in gaps)
    assert any(gap >= 1000 for gap in gaps)


@pytest.mark.parametrize(
    ("before", "after"),
    [("the", "catch"), ("of", "the"), ("and", "then"), ("you", "push"), ("have", "passed"),
     ("25", "degrees"), ("Stroke", "Surgery"), ("to", "bend"), ("your", "ribs")],
)  # fmt: skip
def test_what_belongs_together(before, after):
    assert breaks.cost(before, after) >= breaks.FORBIDDEN


def test_breaks_prefer_punctuation_then_clauses():
    costs = [breaks.cost(*pair) for pair in [
        ("end.", "So"), ("knees,", "check"), ("knees", "and"), ("knees", "at"), ("long", "arms"),
    ]]  # fmt: skip
    assert costs == sorted(costs)
    assert len(set(costs)) == len(costs)
    _, lines = breaks.lay_out(
        ["they", "leave", "the", "body", "first,", "and", "they", "have", "passed"], 37
    )
    assert lines == ("they leave the body first,", "and they have passed")
    assert breaks.lay_out(["x" * 30, "y" * 30, "z" * 30], 37)[1] == ()


def test_times_buy_reading_time_from_pauses():
    quick = Spoken(10_000, 11_000, words=9, chars=40)
    ((start, end),) = times([quick])
    assert end - start >= 3000
    assert 10_000 - start <= 1500
    assert end - 11_000 <= 1500
    assert times([]) == []
    assert times([Spoken(0, 400, 1, 4)])[0][0] == 0


def test_long_word_and_no_words():
    cues = cues_of([("x" * 200 + ".", 0.0, 5.0)])
    assert all(len(line) <= 37 for c in cues for line in c.lines)
    assert "".join("".join(c.lines) for c in cues) == "x" * 200 + "."
    assert make_cues(Transcript("en", (), (), "t"), Settings(), Corrections()) == ()
    assert partition([], 37) == []


def test_words_without_times_still_make_captions():
    whole = talk()
    bare = replace(whole, words=())
    assert text_of(make_cues(bare, Settings(), Corrections())) == text_of(cues_of())


def test_word_fixes_reach_the_captions():
    fixed = cues_of(fixes=Corrections(words=(WordFix("square on", "side on"),)))
    assert "side on" in text_of(fixed)
    assert "square" not in text_of(fixed)


CUES = (
    Cue(1000, 3000, ("Hello there.",)),
    Cue(3000, 6000, ("Hands away first, and", "then the body.")),
    Cue(8000, 9000, ("Good.",)),
)


def fixed(*fixes):
    return with_fixes(CUES, fixes, 37)


def test_caption_text_and_times_are_the_coachs():
    made = fixed(CaptionFix(3.1, text="New words.", start_s=2.5, end_s=8.4))
    assert made == (
        Cue(1000, 2500, ("Hello there.",)),
        Cue(2500, 8000, ("New words.",)),
        Cue(8000, 9000, ("Good.",)),
    )


def test_caption_split_join_and_empty():
    made = fixed(CaptionFix(3.0, split_at=17))
    assert [" ".join(c.lines) for c in made[1:3]] == ["Hands away first,", "and then the body."]
    assert made[1].end_ms == made[2].start_ms
    assert made[2].end_ms == 6000
    joined = fixed(CaptionFix(1.0, join_next=True))
    assert joined[0] == Cue(1000, 6000, ("Hello there.", "Hands away first, and then the body."))
    assert fixed(CaptionFix(8.0, text="")) == CUES[:2]
    assert fixed(CaptionFix(8.0, join_next=True)) == CUES


def test_a_long_correction_takes_more_captions():
    made = fixed(CaptionFix(3.0, text=" ".join(["legs then body"] * 8)))
    assert len(made) > 3
    assert all(len(line) <= 37 and len(c.lines) <= 2 for c in made for line in c.lines)
    assert (made[1].start_ms, made[-2].end_ms) == (3000, 6000)


def test_a_correction_without_caption_is_reported():
    lost = CaptionFix(30.0, text="x")
    assert fixed(lost) == CUES
    made = report(CUES, max_chars=37, corrections=Corrections(captions=(lost,)))
    assert made["corrections_without_caption"] == [30.0]


def test_the_report_finds_every_kind_of_breach():
    bad = (
        Cue(0, 500, ("Too short.",)),
        Cue(900, 9000, ("Too long for one caption.",)),
        Cue(8500, 10_000, ("These are your", "hands, and")),
        Cue(10_000, 11_000, ("x" * 38, "y", "z")),
        Cue(11_000, 12_000, ("One two three four five six",)),
        Cue(15_000, 17_000, ("Late.",)),
    )
    made = report(bad, max_chars=37, words=[Word("Late.", 13.0, 13.4, 0.9)])
    broken = {r["rule"]: r["breaking"] for r in made["rules"]}
    assert broken == {
        "lines": 1, "characters a line": 1, "words a minute": 3, "characters a second": 2,
        "shortest, s": 1, "longest, s": 1, "gap, s": 1, "overlap, s": 1, "early or late, s": 1,
        "phrase split by a line": 1, "phrase split by a caption": 1,
    }  # fmt: skip
    assert rule(made, "lines")["where"][0]["start_s"] == 10.0


@pytest.mark.parametrize(("cue_ms", "late"), [(5100, 0), (6400, 0), (6700, 1), (3300, 1)])
def test_captions_are_held_against_the_words_at_their_program_times(cue_ms, late):
    # the words are said at 2 s of the recording; a hold of 3 s is put in before them
    shots = (
        Shot("recording", Fraction(0), Fraction(1), Fraction(0), Fraction(1), "source"),
        Shot("hold", Fraction(1), Fraction(3), Fraction(1), Fraction(0), "none"),
        Shot("recording", Fraction(4), Fraction(6), Fraction(1), Fraction(1), "source"),
    )
    plan = EditPlan(
        Fraction(25), 64, 64, Fraction(10), shots, (), (), (), (), draft=False, blur_athlete=False
    )
    said = Transcript("en", (Word("Now", 2.0, 2.4, 0.9), Word("push.", 2.4, 3.0, 0.9)), (), "x")
    words = on_program(said, plan)
    assert [(w.start_s, w.end_s) for w in words] == [(5.0, 5.4), (5.4, 6.0)]
    made = report((Cue(cue_ms, cue_ms + 1000, ("Now push.",)),), max_chars=37, words=words)
    assert rule(made, "early or late, s")["breaking"] == late
