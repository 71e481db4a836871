"""What every text reader must do with any bytes at all: read them, or refuse them in one line.

One target per reader; Hypothesis (tests/property/test_any_text.py) and atheris (run.py) call them.
"""

from __future__ import annotations

import contextlib
import json
import tempfile
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import cattrs
import numpy as np

from studio import store
from studio.config import Corrections, Settings, load_settings, read_toml
from studio.deliver.chapters import enforce, to_json, to_text, to_vtt as chapters_vtt
from studio.deliver.mux import _metadata
from studio.deliver.subtitles import to_srt, to_vtt
from studio.deliver.summary import write_summary
from studio.errors import ConfigError, LaunchsideError, MediaError
from studio.model.speech import Chapter, Outline, Transcript
from studio.review import edits
from studio.speech.caption_file import read_captions
from studio.speech.captions import make_cues
from studio.speech.glossary import apply_fixes
from studio.speech.outline import outline
from studio.timebase import s_to_ms

FOLDER = Path(tempfile.mkdtemp(prefix="launchside-fuzz-"))
DAMAGED = (OSError, ValueError, cattrs.BaseValidationError)
"""What `store.load` says it raises for a damaged result."""


def captions(data: bytes) -> None:
    """A caption file: words in order, inside their sentences; what is written can be read again."""
    path = FOLDER / "captions.srt"
    path.write_bytes(data)
    try:
        heard = read_captions(path)
    except MediaError as error:
        one_line(error)
        return
    starts = [word.start_s for word in heard.words]
    assert starts == sorted(starts)
    assert all(w.start_s <= w.end_s and w.text and w.text == w.text.strip() for w in heard.words)
    assert all("\n" not in w.text and "\x00" not in w.text for w in heard.words)
    cues = make_cues(heard, Settings(), Corrections())
    for before, after in pairwise(cues):
        assert before.end_ms <= after.start_ms
    for name, text in (("again.srt", to_srt(cues)), ("again.vtt", to_vtt(cues))):
        again = FOLDER / name
        again.write_text(text, encoding="utf-8", newline="\n")
        if cues:
            read_captions(again)


def talk(data: bytes) -> None:
    """A caption file to chapters, points and texts: nothing that a host refuses comes out."""
    path = FOLDER / "talk.srt"
    path.write_bytes(data)
    try:
        heard = read_captions(path)
    except MediaError as error:
        one_line(error)
        return
    made = outline(heard, playhead=None, technique=None, settings=Settings(),
                   corrections=Corrections())  # fmt: skip
    end_s = heard.sentences[-1].end_s
    chapters = enforce(made.chapters, end_s)
    summary = write_summary(made, heard, None, chapters, Settings(), Corrections())
    for text in (to_text(chapters), summary.description):
        assert "<" not in text
        assert ">" not in text
    check_chapters(chapters, end_s)


def check_chapters(chapters: tuple[Chapter, ...], end_s: float) -> None:
    """Every file that chapters go into holds each title whole and once."""
    vtt = chapters_vtt(chapters, end_s)
    assert vtt.count("-->") == len(chapters)
    assert "<script" not in vtt.lower()
    json.loads(to_json(chapters))
    about = _metadata(chapters, Fraction(s_to_ms(end_s), 1000), "")
    assert about.count("[CHAPTER]\nTIMEBASE") == len(chapters)


def settings(data: bytes) -> None:
    """`episode.toml`."""
    path = FOLDER / "episode.toml"
    path.write_bytes(data)
    try:
        load_settings(FOLDER)
    except ConfigError as error:
        one_line(error)


def corrections(data: bytes) -> None:
    """`corrections.toml`, and what it then does to a talk."""
    path = FOLDER / "corrections.toml"
    path.write_bytes(data)
    try:
        found = read_toml(path, Corrections)
    except ConfigError as error:
        one_line(error)
        return
    heard = apply_fixes(sample(), found.words)
    made = outline(heard, playhead=None, technique=None, settings=Settings(), corrections=found)
    cues = make_cues(heard, Settings(), found)
    for before, after in pairwise(cues):
        assert before.end_ms <= after.start_ms
    check_chapters(enforce(made.chapters, 20.0), 20.0)


def results(data: bytes) -> None:
    """A stage's result on disk."""
    path = FOLDER / "outline.json"
    path.write_bytes(data)
    with contextlib.suppress(*DAMAGED):
        store.load(path, Outline)


def arrays(data: bytes) -> None:
    """A stage's arrays on disk."""
    path = FOLDER / "arrays.json"
    path.write_text('{"npz": "a0"}')
    path.with_suffix(".npz").write_bytes(data)
    with contextlib.suppress(*DAMAGED):
        store.load(path, np.ndarray)


def records(data: bytes) -> None:
    """The record of what a stage made."""
    keys = FOLDER / "keys"
    keys.mkdir(exist_ok=True)
    (keys / "plan.json").write_bytes(data)
    store.stale_reason(FOLDER, "plan", "another")
    record = store.recorded(FOLDER, "plan")
    if record is not None:
        store.stale_reason(FOLDER, "plan", record["key"])


def changes(data: bytes) -> None:
    """What the desk's page sends: {"op": .., "args": {..}}."""
    try:
        sent = json.loads(data)
        op, args = str(sent["op"]), dict(sent["args"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return
    now = edits.Documents(corrections="", episode='[sources]\nclip = "clip.mp4"\n')
    try:
        then, _ = edits.apply(now, op, args)
    except LaunchsideError as error:
        one_line(error)
        return
    for text, kind in ((then.episode, Settings), (then.corrections, Corrections)):
        path = FOLDER / "desk.toml"
        path.write_text(text, encoding="utf-8")
        read_toml(path, kind)


def one_line(error: LaunchsideError) -> None:
    """An error the coach can read: one line, not a page."""
    said = str(error)
    assert said.strip()
    assert "\n" not in said
    assert "\r" not in said
    assert len(said) < 3000


def sample() -> Transcript:
    """Some words to correct."""
    path = FOLDER / "sample.srt"
    path.write_text(
        "1\n00:00:00,500 --> 00:00:06,000\nYour layback at the finish is just right. I like it.\n\n"
        "2\n00:00:06,200 --> 00:00:12,000\nAt the catch I want the shins nearer vertical.\n\n"
        '3\n00:00:12,000 --> 00:00:19,500\nThink "let the seat come to the heels". Well done.\n'
    )
    return read_captions(path)


TARGETS: dict[str, Callable[[bytes], None]] = {
    f.__name__: f
    for f in (captions, talk, settings, corrections, results, arrays, records, changes)
}
