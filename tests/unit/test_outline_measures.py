"""Voice beside measure, and the picture as a hint at the phase."""

import numpy as np
import pytest

from studio.config import Corrections, Settings
from studio.model.playhead import STATES, Playhead
from studio.model.speech import Sentence, Transcript
from studio.model.technique import Finding, Measure, Stroke, Technique, View
from studio.speech.outline import outline
from studio.speech.topics import on_screen, phase_at

LINES = (
    "Welcome to Stroke Surgery, today we have got Juniper.",
    "The layback at the finish is lovely, I would not change it.",
    "The wrists are bent at the finish.",
    "So, to sum up, flat wrists please.",
)


def technique(layback_kind):
    strokes = (Stroke(0, 1.0, 2.0, 3.5, {}, True, 1.0),)
    measures = (Measure("layback", "layback at the finish", 41.0, "deg", 1.0, 1, 0.9),
                Measure("wrist", "wrist bend at the finish", 20.0, "deg", 1.0, 1, 0.9))  # fmt: skip
    finding = Finding("any", layback_kind, "finish", "layback", "Any.", "", "", (2.0,), "any",
                      "layback", 0.9)  # fmt: skip
    return Technique(1.0, View(0.0, 0.0, True), None, strokes, measures, (finding,))


def playhead(clip_s, state):
    times = np.arange(0, 10, 0.1)
    n = len(times)
    return Playhead(times, np.full(n, clip_s), np.full(n, STATES.index(state), np.int8),
                    np.zeros(n, np.int32), np.zeros((1, 2, 3)), np.zeros((1, 4)),
                    np.ones(n, np.float32), np.full(n, np.nan), (), (), 320, 180)  # fmt: skip


def made(kind):
    said = tuple(Sentence(t, 8.0 * i, 8.0 * i + 7) for i, t in enumerate(LINES))
    return outline(
        Transcript("en", (), said, "invented"), playhead=None, technique=technique(kind),
        settings=Settings(), corrections=Corrections(),
    )  # fmt: skip


@pytest.mark.parametrize(("kind", "agrees"), [("keep", True), ("change", False)])
def test_outline_tells_where_voice_and_measure_disagree(kind, agrees):
    found = made(kind)
    layback = next(p for p in found.points if p.topic == "layback")
    assert (layback.kind, layback.measure, layback.agrees) == ("keep", "layback", agrees)
    told = [n for n in found.notices if "layback" in n]
    assert bool(told) is not agrees
    assert all("41 deg" in n and "0:08" in n for n in told)


def test_outline_measure_without_finding_neither_backs_nor_contradicts():
    wrists = next(p for p in made("keep").points if p.topic == "wrists")
    assert (wrists.measure, wrists.agrees) == ("wrist", None)


@pytest.mark.parametrize(
    ("clip_s", "phase"),
    [(0.2, None), (1.1, "catch"), (1.5, "drive"), (2.1, "finish"), (2.8, "recovery"),
     (3.4, "catch")],
)  # fmt: skip
def test_outline_phase_at_a_clip_time(clip_s, phase):
    assert phase_at(technique("keep"), clip_s) == phase


def test_outline_only_a_still_picture_hints_at_the_phase():
    assert on_screen(playhead(1.5, "paused"), technique("keep"), 1.0, 5.0) == {
        "drive": pytest.approx(1.0)
    }
    assert on_screen(playhead(1.5, "playing"), technique("keep"), 1.0, 5.0) == {}
    assert on_screen(None, technique("keep"), 1.0, 5.0) == {}


@pytest.mark.parametrize(("clip_s", "phase"), [(1.0, "catch"), (2.0, "finish")])
def test_outline_picture_settles_the_phase_that_words_leave_open(clip_s, phase):
    said = (Sentence("The grip is much too tight, she squeezes the handle.", 0.5, 8.0),)
    found = outline(
        Transcript("en", (), said, "invented"), playhead=playhead(clip_s, "paused"),
        technique=technique("keep"), settings=Settings(), corrections=Corrections(),
    )  # fmt: skip
    assert [(p.topic, p.phase) for p in found.points] == [("grip", phase)]
