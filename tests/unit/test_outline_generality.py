"""Labelled talks of eleven other coaches; floors, not targets: see docs/talk.md."""

import statistics

import pytest

from benchmarks import _talks, outline
from benchmarks._kit import DEFAULT
from studio.config import Athlete, Corrections, Settings
from studio.speech import lexicon
from studio.speech.retold import retold, shifted
from studio.speech.talk import read


@pytest.fixture(scope="module")
def results():
    made = []
    for name in _talks.names("develop"):
        truth, transcript = outline.load(DEFAULT, name)
        settings = Settings(athlete=Athlete(truth["athlete"]))
        found = outline.outline(
            transcript, playhead=None, technique=None, settings=settings, corrections=Corrections()
        )
        text = outline.summarised(found, transcript, settings)
        made.append(outline.judge(found, truth, text))
    return made


def test_outline_of_other_coaches_stays_as_good_as_it_is(results):
    assert len(results) == 11
    assert statistics.mean(r.f1 for r in results) > 0.75
    assert statistics.mean(r.precision for r in results) > 0.75
    assert statistics.mean(r.recall for r in results) > 0.75
    assert statistics.mean(r.topics for r in results) > 0.8


def test_summaries_of_other_coaches_say_the_facts_and_nothing_false(results):
    assert sum(r.said_wrongly for r in results) == 0
    said, facts = (sum(r.must[i] for r in results) for i in (0, 1))
    assert said / facts > 0.85


def test_a_recap_takes_up_several_distant_places():
    lines = [
        "Her wrists curl under at the finish.", "Keep them flat.", "It is a small thing.", "Fine.",
        "The slide is hurried.", "It bangs into the stops.", "Once more.",
        "She breathes well.", "That is all I saw.",
        "So, flat wrists and an unhurried slide.", "Good bye.",
    ]  # fmt: skip
    found = retold([lexicon.plain(line) for line in lines])
    assert max(range(len(lines)), key=lambda i: found[i]) == 9
    assert found[9] >= 2
    assert found[:4] == [0, 0, 0, 0]


def test_a_topic_shift_is_seen_only_where_the_topic_is_another_one():
    said = ["The wrists are bent.", "The wrists again.", "The heels come up."]
    assert shifted([lexicon.plain(s) for s in said]) == [False, False, True]


@pytest.mark.parametrize("said", ["Point two, the drive.", "Release.", "Then the recovery."])
def test_a_bare_phase_is_a_heading_however_it_is_numbered(said):
    talk = {"sentences": [{"text": said, "start_s": 1.0, "end_s": 3.0}], "name": "x"}
    assert read(_talks.as_typed(talk).sentences)[0].hits["header"] == 1


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ("She should not rush. The slide is calm.", "rush & !not", False),
        ("She does rush.", "rush & !not", True),
        ("The knees rise. The hands wait.", "knees & hands", False),
        ("The quarter-slide taps.", "quarter.slide", True),
    ],
)
def test_a_fact_is_looked_for_within_one_sentence(text, key, said):
    assert _talks.says(text, key) is said
