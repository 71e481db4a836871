"""Word times beside pauses, and what a recogniser invents."""

import numpy as np
import pytest

from studio.model.speech import Word
from studio.speech.hearing import sober
from studio.speech.voice import silent, snap, stretches, voiced


def words(*rows):
    return [Word(text, start, end, probability) for text, start, end, probability in rows]


def test_stretches_have_hysteresis_and_bridge_stops():
    chances = np.array([0, 0.6, 0.4, 0.4, 0.6, 0.1, 0.1, 0.6, 0.6, 0.6] + [0] * 10 + [0.9] * 5)
    assert stretches(chances, 0.1) == ((0.1, 0.5), (pytest.approx(0.7), 1.0), (2.0, 2.5))
    assert stretches(chances, 0.05) == ((0.05, 0.5), (1.0, 1.25))


@pytest.mark.parametrize("kind", ["silence", "noise", "tone", "chord"])
def test_no_voice_where_nobody_speaks(kind):
    rng = np.random.default_rng(0)
    t = np.arange(5 * 16000) / 16000
    sound = {
        "silence": np.zeros_like(t),
        "noise": rng.normal(0, 0.05, len(t)),
        "tone": 0.3 * np.sin(2 * np.pi * 440 * t),
        "chord": sum(0.1 * np.sin(2 * np.pi * f * t) for f in (220, 277, 330)),
    }[kind]
    assert voiced(sound.astype(np.float32)) == ()


def test_a_word_stamped_seconds_early_moves_to_the_onset():
    heard = words(("split.", 1.6, 2.0, 0.9), ("To", 2.0, 2.2, 0.3), ("sum", 6.0, 6.3, 0.9))
    moved = snap(heard, [(1.0, 2.2), (6.0, 7.0)])
    assert (moved[0].start_s, moved[1].start_s) == (1.0, 6.0)
    assert moved[0].end_s == 2.2


def test_words_in_running_speech_keep_their_times():
    heard = words(("the", 1.0, 1.2, 0.9), ("long", 1.2, 1.6, 0.9), ("arms", 1.6, 2.0, 0.9))
    assert snap(heard, [(1.0, 2.0)]) == tuple(heard)


def test_pause_inside_a_sentence_is_found_without_punctuation():
    heard = words(("hands", 1.0, 1.5, 0.9), ("away", 1.5, 2.4, 0.9), ("then", 2.4, 3.3, 0.9))
    moved = snap(heard, [(1.0, 2.0), (3.0, 3.4)])
    assert (moved[1].end_s, moved[2].start_s, moved[2].end_s) == (2.0, 3.0, 3.4)


def test_silent_tells_stretches_without_words():
    heard = words(("hello", 1.0, 1.5, 0.9))
    assert silent(heard, [(1.0, 1.5), (4.0, 4.5), (6.0, 6.2)]) == ((4.0, 4.5),)
    assert silent(heard, [(1.0, 3.0)]) == ((1.5, 3.0),)
    assert silent([], [(1.0, 3.0)]) == ((1.0, 3.0),)


def test_words_over_silence_are_dropped():
    heard = words(("hello.", 1.0, 1.5, 0.9), ("Thanks", 8.0, 8.5, 0.9), ("watching.", 8.5, 9, 0.9))
    assert [w.text for w in sober(heard, [(1.0, 1.5)])] == ["hello."]


def test_echoes_and_loops_are_cut():
    voice = [(0.0, 60.0)]
    echo = words(("last.", 1, 1.5, 0.9), ("And", 2, 2.2, 0.9), ("And", 2.2, 2.2, 0.6),
                 ("at", 2.2, 2.4, 0.9), ("quiet.", 3, 3.4, 0.9), ("it.", 3.4, 3.6, 0.1),
                 ("Right", 9, 9.4, 0.9))  # fmt: skip
    assert [w.text for w in sober(echo, voice)] == ["last.", "And", "at", "quiet.", "Right"]
    loop = words(*[(t, i, i + 0.5, 0.9) for i, t in enumerate(["I'm", "sorry"] * 6 + ["so"])])
    assert [w.text for w in sober(loop, voice)] == ["I'm", "sorry", "so"]
    thrice = words(*[("ten", i, i + 0.5, 0.9) for i in range(3)])
    assert len(sober(thrice, voice)) == 3
