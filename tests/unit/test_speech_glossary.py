"""Terms and names put right, visibly, and nothing else touched."""

from dataclasses import replace

import pytest

from studio.config import About, Athlete, Settings, WordFix
from studio.model.speech import Transcript, Word
from studio.speech.glossary import apply_fixes, repair, sound
from studio.speech.sentences import split

SETTINGS = Settings(
    episode=About(series="Stroke Surgery", club="Quillwater Rowing Club", coach="Marguerite"),
    athlete=Athlete(alias="Tobias"),
)


def said(text, probability=0.9):
    return [Word(w, i * 0.5, i * 0.5 + 0.4, probability) for i, w in enumerate(text.split())]


def mended(text, probability=0.9, settings=SETTINGS):
    return " ".join(w.text for w in repair(said(text, probability), settings)[0])


@pytest.mark.parametrize(
    ("heard", "text"),
    [
        ("Today it's to buy us on the table", "Today it's Tobias on the table"),
        ("You're moving well to bias, so send", "You're moving well Tobias, so send"),
        ("This is Tobiah's best stroke", "This is Tobias best stroke"),
        ("with stroke surgery today", "with Stroke Surgery today"),
        ("at the Quilwater Roing Club.", "at the Quillwater Rowing Club."),
        ("Margarite says", "Marguerite says"),
        ("That is a very big lay back, and", "That is a very big layback, and"),
        ("Are your shin's vertical?", "Are your shins vertical?"),
        ("watch the handle hide here", "watch the handle height here"),
        ("feet on the foot plate.", "feet on the footplate."),
        ("one end a half to one", "one and a half to one"),
    ],
)
def test_misheard_is_put_right(heard, text):
    assert mended(heard) == text


@pytest.mark.parametrize(
    "text",
    [
        "Don't lay back so far.",
        "Tubes and types of tops",
        "I want to buy a boat",
        "The surgery was in the club",
        "Put the weights for training away",
        "One, two, three, go",
        "Write it down at home",
        "At the catch, the shins are vertical",
    ],
)
def test_good_words_stay(text):
    words, told = repair(said(text), SETTINGS)
    assert " ".join(w.text for w in words) == text
    assert told == ()


def test_doubtful_word_needs_its_company():
    assert mended("Gents just about vertical", 0.3) == "Shins just about vertical"
    assert mended("Gents just about vertical", 0.95) == "Gents just about vertical"
    assert mended("Gents just about ready", 0.3) == "Gents just about ready"


def test_short_name_is_repaired_only_where_a_name_stands():
    wim = replace(SETTINGS, athlete=Athlete(alias="Wim"))
    assert mended("Straight in, this is one.", 0.7, wim) == "Straight in, this is Wim."
    assert mended("That is one of the things", 0.7, wim) == "That is one of the things"
    assert mended("That is one. Two, three.", 0.7, wim) == "That is one. Two, three."


def test_repairs_are_told_and_time_is_kept():
    words, told = repair(said("it's to buy us now"), SETTINGS)
    assert [(r.heard, r.text, r.start_s) for r in told] == [("to buy us", "Tobias", 0.5)]
    assert (words[1].start_s, words[1].end_s) == (0.5, 1.9)


def test_sound_is_rough():
    assert sound("tobuyus") == sound("Tobias")
    assert sound("one") == sound("Wim")
    assert sound("catch") != sound("drive")


def test_spelling_follows_the_language():
    assert mended("four centimeters") == "four centimetres"
    american = replace(SETTINGS, episode=About(language="en-US"))
    assert mended("four centimeters", settings=american) == "four centimeters"


def test_coach_fixes_reach_every_place():
    words = tuple(said("The oar lock, see. Oar lock again."))
    talk = Transcript("en", words, split(words), "test")
    fixed = apply_fixes(talk, [WordFix("oar lock", "gate"), WordFix("", "nothing")])
    assert [s.text for s in fixed.sentences] == ["The gate, see.", "Gate again."]
    assert len(fixed.repairs) == 2
    assert apply_fixes(talk, []) is talk
    assert apply_fixes(talk, [WordFix("absent", "x")]) is talk
    assert apply_fixes(fixed, [WordFix("oar lock", "gate")]).words == fixed.words


def test_fixes_work_on_sentences_alone():
    words = tuple(said("The oar lock, see."))
    talk = Transcript("en", (), split(words), "test")
    assert apply_fixes(talk, [WordFix("oar lock", "gate")]).sentences[0].text == "The gate, see."
