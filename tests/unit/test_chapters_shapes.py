"""Chapters: the rules of video hosts, WebVTT and Podcasting 2.0."""

import json
import re
from itertools import pairwise

import pytest
import webvtt
from hypothesis import given, strategies as st

from studio.deliver.chapters import enforce, to_json, to_text, to_vtt
from studio.model.speech import Chapter


def chapter(start_s, title="Title", kind=None, phase=None):
    return Chapter(start_s, start_s + 1, title, phase, kind)


def printed(text):
    stamps = [line.split(" ", 1)[0] for line in text.splitlines()]
    return [sum(int(p) * 60**i for i, p in enumerate(reversed(s.split(":")))) for s in stamps]


@given(
    st.lists(st.floats(-5, 5000, allow_nan=False), min_size=1, max_size=30),
    st.floats(1, 5000, allow_nan=False),
)
def test_any_chapters_come_out_as_hosts_want_them(starts, duration_s):
    # 9to5google 2020-05-28 on video hosts' chapters: first at 0:00, ascending, each 10 s or more
    made = enforce([chapter(s) for s in starts], duration_s)
    if not made:
        assert all(s >= duration_s for s in starts)
        return
    stamps = [*printed(to_text(made)), int(duration_s)]
    assert stamps[0] == 0
    assert all(b - a >= 10 for a, b in pairwise(stamps)) or len(made) == 1
    assert made[-1].end_s == duration_s
    assert all(a.end_s == b.start_s for a, b in pairwise(made))


def test_the_printed_stamps_count_not_the_real_ones():
    made = enforce([chapter(0), chapter(20.9), chapter(30.5)], 60)
    assert printed(to_text(made)) == [0, 20, 30]
    assert len(enforce([chapter(0), chapter(20.0), chapter(29.99)], 60)) == 2


def test_the_more_telling_title_stays():
    made = enforce(
        [chapter(0, "Welcome", "intro"), chapter(4, "Catch: late", "change", "catch")], 60
    )
    assert [(c.start_s, c.title) for c in made] == [(0, "Catch: late")]
    made = enforce([chapter(0), chapter(40, "Recap", "recap"), chapter(55, "Bye", "outro")], 60)
    assert [c.title for c in made] == ["Title", "Recap"]


def test_text_is_what_a_video_host_takes():
    made = enforce([chapter(0, "A <b>\nB"), chapter(3700, "Late")], 4000)
    text = to_text(made)
    assert all(re.fullmatch(r"\d+:\d\d:\d\d \S.*", line) for line in text.splitlines())
    assert "<" not in text
    assert ">" not in text


HOSTILE = ['R&D: knee <90 & --> "hips" > arms', "line\n\nbreak", "\u202eright to left", "🚣 one"]


@pytest.mark.parametrize("title", HOSTILE)
def test_webvtt_gives_titles_back(title):
    made = enforce([chapter(0, "First"), chapter(30, title)], 60)
    text = to_vtt(made, 60.0)
    cues = webvtt.from_string(text)  # an independent parser
    assert [(c.start, c.end) for c in cues] == [
        ("00:00:00.000", "00:00:30.000"),
        ("00:00:30.000", "00:01:00.000"),
    ]
    # W3C WebVTT, chapter title text: no tags, "&" and "<" only as references, no arrow
    payload = text.split("\n\n")[2].splitlines()[1]
    assert "<" not in payload
    assert "-->" not in payload
    assert not re.search(r"&(?!(?:amp|lt|gt);)", payload)
    assert (
        cues[1].text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
        == made[1].title
    )


def test_podcast_json_has_the_members_of_the_specification():
    # podcast-namespace, jsonChapters.md version 1.2: version and chapters; startTime; ascending
    made = enforce([chapter(0, 'A "quote"'), chapter(30.1234567)], 60)
    plain = json.loads(to_json(made, title="T"))
    assert plain["version"] == "1.2.0"
    assert plain["title"] == "T"
    assert [c["startTime"] for c in plain["chapters"]] == [0.0, 30.123]
    assert [c["title"] for c in plain["chapters"]] == ['A "quote"', "Title"]
    assert plain["chapters"][-1]["endTime"] == 60
    assert "title" not in json.loads(to_json(made))


def test_no_chapters_give_empty_lists():
    assert enforce([], 60) == ()
    assert to_text(()) == ""
    assert json.loads(to_json(()))["chapters"] == []
