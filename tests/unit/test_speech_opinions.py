"""Two hearings made one."""

from studio.model.speech import Word
from studio.speech.opinions import settle


def said(text, probability=0.9, at=0.0):
    return [
        Word(w, at + i * 0.5, at + i * 0.5 + 0.4, probability) for i, w in enumerate(text.split())
    ]


def text(words):
    return " ".join(w.text for w in words)


def test_agreement_keeps_the_first_hearing():
    first, second = said("Hands away, then the body."), said("hands away then the body", 0.99, 0.1)
    assert settle(first, second) == first


def test_the_surer_words_stand():
    first = said("the") + said("cats", 0.3, 0.5) + said("is long", 0.9, 1.0)
    second = said("the") + said("catch", 0.8, 0.5) + said("is long", 0.9, 1.0)
    assert text(settle(first, second)) == "the catch is long"
    assert text(settle(second, first)) == "the catch is long"


def test_a_lost_sentence_comes_back_and_a_whisper_does_not():
    whole = said("Start here.") + said("Shins vertical.", 0.9, 3) + said("Well done.", 0.9, 6)
    lost = said("Start here.") + said("Well done.", 0.9, 6)
    assert settle(lost, whole) == whole
    assert settle(whole, lost) == whole
    faint = said("Start here.") + said("you", 0.2, 3) + said("Well done.", 0.9, 6)
    assert settle(lost, faint) == lost
    assert settle([], []) == []
    assert settle([], whole) == whole
