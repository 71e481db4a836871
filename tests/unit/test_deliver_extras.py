"""Stills, the short, the open time line and the report."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from types import SimpleNamespace

import cv2
import numpy as np
import opentimelineio as otio
import pytest

from studio.config import About
from studio.deliver import short
from studio.deliver.report import write_report
from studio.deliver.short import LEAST_S, MOST_S, choose, make_short
from studio.deliver.stills import write_stills
from studio.deliver.timeline import write_timeline
from studio.ingest.probe import probe
from studio.model.speech import Outline, TalkingPoint
from studio.model.technique import Finding, Measure
from studio.progress import Quiet
from tests.conftest import write_video
from tests.edit_scene import CLIP_PX, cue, make_plan, media, settings, technique

TALK = ((60.0, "paused", 1.2, 0.0),)
POINTS = (
    TalkingPoint("keep", None, "rate", "steady", 2.0, 6.0),
    TalkingPoint("change", "catch", "lean", "lean from the hips", 10.0, 20.0),
    TalkingPoint("coaching_cue", "catch", "lean", "chest past the hips", 21.0, 26.0),
    TalkingPoint("drill", "catch", "lean", "pause at body over", 27.0, 34.0),
    TalkingPoint("change", "finish", "layback", "less layback", 40.0, 44.0),
)


def noisy_clip(folder):
    rng = np.random.default_rng(2)
    images = [rng.integers(0, 255, (CLIP_PX[1], CLIP_PX[0], 3), np.uint8)] * 90
    return write_video(folder / "clip.mp4", images)


@pytest.mark.parametrize("consent", ["yes", "no"])
def test_stills_show_catch_and_finish_and_hide_the_face_without_consent(tmp_path, consent):
    clip = noisy_clip(tmp_path)
    made = write_stills((clip, probe(clip)), technique(), settings(consent), tmp_path / "stills",
                        others=None)  # fmt: skip
    assert [p.name for p in made] == ["catch.png", "finish.png", "strokes.png", "thumbnail.jpg"]
    for path in made:
        image = cv2.imread(str(path))
        assert image is not None
        if path.name in ("catch.png", "finish.png"):
            assert image.shape == (CLIP_PX[1], CLIP_PX[0], 3)
    assert cv2.imread(str(made[3])).shape == (720, 1280, 3)
    face = cv2.imread(str(made[0]), cv2.IMREAD_GRAYSCALE)[12:20, 66:74]  # catch: at 70, 16
    assert (face.std() > 40) == (consent == "yes")


def test_a_clip_without_strokes_gives_no_stills(tmp_path):
    clip = noisy_clip(tmp_path)
    bare = replace(technique(), strokes=())
    assert write_stills((clip, probe(clip)), bare, settings(), tmp_path, others=None) == []


def test_the_short_takes_the_point_that_comes_with_cue_and_drill():
    plan = make_plan(TALK, outline=Outline((), POINTS))
    cut = choose(plan, Outline((), POINTS))
    assert (cut.start_s, cut.end_s) == pytest.approx((10.0, 34.0))
    assert cut.label == "Change: forward lean"


@pytest.mark.parametrize("points", [POINTS[:1], POINTS[4:], POINTS[1:2]])
def test_the_short_lasts_twenty_to_forty_five_seconds(points):
    talk = tuple(cue(t, t + 2.8) for t in range(0, 57, 3))
    plan = make_plan(TALK, outline=Outline((), points), cues=talk)
    cut = choose(plan, Outline((), points))
    assert LEAST_S <= cut.end_s - cut.start_s <= MOST_S
    assert cut.start_s <= points[0].start_s
    assert cut.end_s >= points[0].end_s


def test_no_talking_point_no_short():
    assert choose(make_plan(TALK), None) is None
    assert choose(make_plan(TALK), Outline((), ())) is None
    brief = make_plan(((5.0, "paused", 1.2, 0.0),))
    assert choose(brief, Outline((), POINTS[:1])) is None


def test_the_short_is_upright_with_captions_burned_in(tmp_path, monkeypatch):
    monkeypatch.setattr(short, "LEAST_S", 1.0)
    images = [np.full((144, 240, 3), 60 + i, np.uint8) for i in range(60)]
    sound = np.zeros(2 * 48000, np.float32)
    episode = write_video(tmp_path / "episode.mp4", images, sound=sound)
    point = TalkingPoint("change", "catch", "lean", "lean", 0.5, 1.5)
    parts = ((2.0, "paused", 1.2, 0.0),)
    plan = make_plan(parts, outline=Outline((), (point,)), cues=(cue(0.5, 1.0, "Lean from there"),))
    out = tmp_path / "short.mp4"
    cut = make_short(plan, episode, outline=Outline((), (point,)), playhead=None,
                     settings=settings(), out=out, progress=Quiet())  # fmt: skip
    made = probe(out)
    assert (made.video.width_px, made.video.height_px) == (1080, 1920)
    assert made.video.frame_count == round((cut.end_s - cut.start_s) * 30) == 30
    assert made.audio is not None
    from studio.ingest.frames import read_frames

    frames = [f.image for f in read_frames(out, made.video)]
    below = slice(1400, 1700)
    assert frames[5][below].max() > 200  # letters
    assert frames[25][below].max() < 80  # the caption is over
    # the episode's frame 20 is the short's frame 5: the same moment
    assert frames[5][900, 540].mean() == pytest.approx(60 + 20, abs=6)


def test_upright_captions_are_short_lines_of_nearly_equal_length():
    lines = short._narrow("They leave the body first, and they've passed the knees before the bend")
    assert " ".join(lines) == (
        "They leave the body first, and they've passed the knees before the bend"
    )
    assert max(map(len, lines)) <= 30
    assert max(map(len, lines)) - min(map(len, lines)) <= 12


def test_the_time_line_reads_back_with_every_shot_and_marker(tmp_path):
    plan = make_plan(outline=Outline((), POINTS[:1]))
    path = write_timeline(tmp_path / "timeline.otio", plan, recording=media(seconds=10),
                          clip=media("clip.mp4", 3), outline=Outline((), POINTS[:1]),
                          title="Early hands")  # fmt: skip
    read = otio.adapters.read_from_file(str(path))
    picture, sound = read.tracks
    assert read.duration().to_seconds() == pytest.approx(float(plan.duration_s))
    assert len(picture) == len(sound) == len(plan.shots)
    for item, shot in zip(picture, plan.shots, strict=True):
        assert item.duration().to_seconds() == pytest.approx(float(shot.duration_s))
        assert item.source_range.start_time.to_seconds() == pytest.approx(
            float(shot.source_start_s)
        )
        assert item.media_reference.target_url == "recording.mp4"
    frozen = [bool(i.effects) for i in picture]
    assert frozen == [s.speed == 0 for s in plan.shots]
    names = [m.name for m in picture.markers]
    assert "hold: finish" in names
    assert "keep: rate" in names


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.open, self.names, self.loaded, self.text = [], [], [], ""

    def handle_starttag(self, tag, attrs):
        self.names.append(tag)
        self.loaded += [v for k, v in attrs if k in ("src", "href")]
        if tag not in ("meta", "img"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text += data


def test_the_report_is_whole_escaped_and_needs_nothing_else(tmp_path):
    nasty = '<script>alert("x")</script> & more'
    tech = replace(
        technique(),
        measures=(Measure("lean", nasty, 19.4, "deg", 1.0, 3, 0.9, 5.0),
                  Measure("rate", "Rate", None, "spm", None, 0, 0.0, reason="too short")),
        findings=(Finding("c", "keep", "catch", "lean", nasty, nasty, "", (1.5,), "A. Coach", "",
                          0.9, caution="Ask a physiotherapist."),),
        notices=(nasty,),
    )  # fmt: skip
    plan = make_plan(cues=(cue(1, 3, "a caption"),))
    clip = noisy_clip(tmp_path)
    stills = write_stills((clip, probe(clip)), technique(), settings(), tmp_path / "stills",
                          others=None)  # fmt: skip
    words = SimpleNamespace(words=(), repairs=(), doubtful=())
    out = write_report(tmp_path / "report.html", plan,
                       settings=settings(episode=About(title=nasty)), technique=tech,
                       transcript=words, stills=stills)  # fmt: skip
    page = Tags()
    text = out.read_text(encoding="utf-8")
    page.feed(text)
    assert page.open == []
    assert "script" not in page.names
    assert all(source.startswith("data:image/") for source in page.loaded)
    assert page.text.count(nasty) >= 5
    assert "http" not in re.sub(r"base64,[^\"]*", "", text)
    for wanted in ("19°", "too short", "Ask a physiotherapist.", "doctor or physiotherapist"):
        assert wanted in page.text
    for section in ("What was found", "Measures", "Findings", "What was decided", "Captions"):
        assert section in page.text
