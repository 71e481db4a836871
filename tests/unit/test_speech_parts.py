"""A long recording is heard in parts, none of which cuts a word."""

from pathlib import Path

import numpy as np
import pytest

from studio.ingest.audio import read_audio
from studio.ingest.probe import probe
from studio.speech import transcribe, voice
from tests.small_episode import ffmpeg

SPOKEN = Path(__file__).parent.parent / "data" / "speech_cue.opus"


@pytest.fixture
def talk(tmp_path):
    """A sentence said six times."""
    path = tmp_path / "talk.wav"
    ffmpeg("-stream_loop", 5, "-i", SPOKEN, "-af", "apad=pad_dur=0.5", "-ar", 16000, path)
    return path, probe(path, need_video=False)


def test_the_parts_are_the_whole_and_end_in_pauses(talk, monkeypatch):
    monkeypatch.setattr(transcribe, "PART_S", 6)
    monkeypatch.setattr(transcribe, "TAIL_S", 4)
    whole = read_audio(*talk, rate_hz=16000, channels=1)[:, 0]
    parts = list(transcribe.parts(*talk))
    assert len(parts) > 2
    assert np.array_equal(np.concatenate([samples for _, samples in parts]), whole)
    starts = np.cumsum([0, *(len(samples) for _, samples in parts[:-1])]) / 16000
    assert [start for start, _ in parts] == pytest.approx(list(starts))
    spoken = voice.voiced(whole)
    for cut, _ in parts[1:]:
        assert not any(start + 0.05 < cut < end - 0.05 for start, end in spoken)
    assert all(len(samples) <= 7.1 * 16000 for _, samples in parts)


def test_a_short_recording_is_one_part(talk):
    parts = list(transcribe.parts(*talk))
    assert len(parts) == 1
    assert parts[0][0] == 0


def test_speech_without_a_pause_is_cut_where_it_must(talk, monkeypatch):
    monkeypatch.setattr(transcribe, "PART_S", 6)
    monkeypatch.setattr(transcribe, "TAIL_S", 4)
    monkeypatch.setattr(transcribe.voice, "voiced", lambda samples: ((0.0, len(samples) / 16000),))
    total = sum(len(samples) for _, samples in transcribe.parts(*talk))
    assert total == len(read_audio(*talk, rate_hz=16000, channels=1))
