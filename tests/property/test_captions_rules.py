"""Whatever is said, captions keep the hard rules."""

from itertools import pairwise

from hypothesis import given, settings as profile, strategies as st

from studio.config import CaptionSettings, Corrections, Settings
from studio.model.speech import Transcript, Word
from studio.speech.captions import make_cues
from studio.speech.sentences import split

WORDS = st.sampled_from(
    [
        "the",
        "a",
        "catch",
        "drive",
        "finish",
        "recovery",
        "and",
        "then",
        "but",
        "of",
        "to",
        "your",
        "hands",
        "away",
        "knees",
        "thirty",
        "five",
        "degrees",
        "good.",
        "so,",
        "Okay?",
        "compression",
        "footplate",
        "I",
        "you've",
        "slide!",
        "at",
        "in",
    ]
)
ROWS = st.lists(st.tuples(WORDS, st.floats(0.08, 0.9), st.sampled_from([0, 0, 0, 0.3, 1.2, 5])),
                min_size=1, max_size=60)  # fmt: skip


@given(ROWS, st.sampled_from([37, 42]))
@profile(max_examples=60, deadline=None)
def test_rules_hold(rows, max_chars):
    words, at = [], 0.5
    for text, length, pause in rows:
        words.append(Word(text, at, at + length, 0.9))
        at += length + pause
    talk = Transcript("en", tuple(words), split(words), "test")
    cues = make_cues(talk, Settings(captions=CaptionSettings(max_chars)), Corrections())
    assert cues
    for cue in cues:
        assert 1 <= len(cue.lines) <= 2
        assert all(0 < len(line) <= max_chars for line in cue.lines)
        assert 0 <= cue.start_ms < cue.end_ms
        assert cue.end_ms - cue.start_ms <= 7000
        assert cue.end_ms - cue.start_ms >= 834
    for a, b in pairwise(cues):
        assert b.start_ms == a.end_ms or b.start_ms - a.end_ms >= 1000
