"""Nobody who gave no alias is named, also where captions have no capitals."""

import pytest

from studio.config import Settings
from studio.deliver.anonymous import names_said, without
from studio.model.speech import Sentence, Transcript


def said(*texts):
    return Transcript("en", (), tuple(Sentence(t, 0.0, 1.0) for t in texts), "test")


def names(*texts):
    return names_said(said(*texts), Settings())


@pytest.mark.parametrize("name", ["priya", "marcus", "siobhan", "kofi", "tobias", "aiko", "lucía"])
@pytest.mark.parametrize(
    "frame",
    ["in this one {} goes a bit long and {} knows it",
     "this clip was sent in by {} and she rows at twenty",
     "this is {} she is rowing at twenty",
     "thank you {} for sending your film", "well done {}",
     "her name is {}", "today's rower is {} who goes long", "so today we have {} with us"],
)  # fmt: skip
def test_a_name_without_its_capital_is_found(name, frame):
    assert names(frame.replace("{}", name), "the catch is fine") == (name,)


def test_a_name_that_no_list_knows_is_found_where_nothing_else_can_stand():
    assert names("this film was sent in by quillow", "quillow rows well") == ("quillow",)


@pytest.mark.parametrize(
    "text",
    ["this is really good and the legs are long", "thank you for sending this in",
     "so keep the hands away and drop the shoulders", "it's called the catch and it's early",
     "right now the rate is high", "hold the drive with power for a second",
     "her name is the one you know", "so will it hold and may it last", "well done again"],
)  # fmt: skip
def test_ordinary_words_are_no_names(text):
    assert names(text) == ()


def test_where_there_are_capitals_they_tell():
    assert names("Priya rows well.", "We look at her catch, Lars and I.") == ("Lars",)
    assert names("A strong drive, and on Mondays she drew the line here.") == ()


def test_the_name_goes_everywhere():
    text = "priya is late here, and priya's hands drop"
    assert without(text, ("priya",)) == "The athlete is late here, and the athlete's hands drop"
