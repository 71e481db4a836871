"""Hostile texts are read or refused in one line, soon, and leave nothing behind elsewhere."""

import re
import time

import pytest

from studio.config import load_settings
from studio.errors import ConfigError, MediaError
from studio.speech.caption_file import read_captions
from tests.corpus.table import PAGE, filled
from tests.corpus.texts import CAPTIONS, SETTINGS
from tests.fuzz.targets import TARGETS

LIMIT_S = 5.0
"""CPU seconds for the worst of them; a pattern that backtracks takes hours."""


@pytest.mark.parametrize("text", SETTINGS, ids=lambda text: text.name)
def test_settings(text, tmp_path):
    (tmp_path / "episode.toml").write_bytes(text.bytes())
    if text.outcome == "works":
        load_settings(tmp_path)
        return
    with pytest.raises(ConfigError, match=text.says) as refused:
        load_settings(tmp_path)
    said = str(refused.value)
    assert said.startswith(str(tmp_path / "episode.toml"))
    assert "\n" not in said
    assert len(said) < 2000


@pytest.mark.parametrize("text", CAPTIONS, ids=lambda text: text.name)
def test_captions(text, tmp_path):
    path = tmp_path / "captions.srt"
    path.write_bytes(text.bytes())
    began = time.process_time()
    if text.outcome == "refused":
        with pytest.raises(MediaError, match=text.says):
            read_captions(path)
    else:
        words = read_captions(path).words
        assert re.search(text.says, " ".join(word.text for word in words))
        assert not any(re.search(r"[\x00-\x1f\u202a-\u202e\u2066-\u2069]", w.text) for w in words)
    TARGETS["captions"](text.bytes())
    TARGETS["talk"](text.bytes())
    assert time.process_time() - began < LIMIT_S


def test_the_page_shows_what_is_tested():
    page = PAGE.read_text(encoding="utf-8")
    assert filled(page) == page, "run: python -m tests.corpus.table"
