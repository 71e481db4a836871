"""Numbers in captions."""

import pytest

from studio.model.speech import Word
from studio.speech.numbers import figures


def said(text):
    return [Word(w, i * 0.5, i * 0.5 + 0.4, 0.9) for i, w in enumerate(text.split())]


@pytest.mark.parametrize(
    ("spoken", "written"),
    [
        ("thirty strokes a minute", "30 strokes a minute"),
        ("rating twenty-six, and", "rating 26, and"),
        ("about twenty five degrees.", "about 25 degrees."),
        ("only five degrees", "only 5 degrees"),
        ("one point four seconds", "1.4 seconds"),
        ("two hundred and forty metres", "240 metres"),
        ("a two hundred metre piece", "a 200 metre piece"),
        ("eleven o'clock", "eleven o'clock"),
        ("a quarter of the slide", "a quarter of the slide"),
        ("one and a half to one", "one and a half to one"),
        ("twelve and a half degrees", "twelve and a half degrees"),
        ("one thing, two weeks", "one thing, two weeks"),
        ("nine, ten, go", "nine, 10, go"),
        ("twenty twenty five", "twenty twenty five"),
        ("the catch", "the catch"),
        ("point", "point"),
        ("at 30 spm", "at 30 spm"),
    ],
)
def test_the_usual_way(spoken, written):
    assert " ".join(w.text for w in figures(said(spoken))) == written


def test_a_figure_spans_its_words():
    made = figures(said("rate twenty six now"))
    assert [(w.text, w.start_s, w.end_s) for w in made] == [
        ("rate", 0.0, 0.4), ("26", 0.5, 1.4), ("now", 1.5, 1.9),
    ]  # fmt: skip
