"""Words as the recogniser gives them, put together as they are written."""

from types import SimpleNamespace

from studio.model.speech import Word
from studio.speech import hearing


def heard(start, end, probability):
    return SimpleNamespace(start=start, end=end, probability=probability)


def test_the_rest_of_a_hyphened_word_joins_it():
    words = [Word("warm", 1.0, 1.2, 0.9)]
    hearing._append(words, "-up.", heard(1.2, 1.5, 0.8))
    assert words == [Word("warm-up.", 1.0, 1.5, 0.8)]


def test_a_dash_or_a_negative_number_stays_a_word():
    words = [Word("about", 1.0, 1.2, 0.9)]
    for text in ("-", "-3"):
        hearing._append(words, text, heard(1.2, 1.5, 0.8))
    assert [w.text for w in words] == ["about", "-", "-3"]
