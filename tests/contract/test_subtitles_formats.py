"""SubRip and WebVTT read back by two parsers that know nothing of ours: pysubs2 and webvtt-py."""

import html
import io
import re
from itertools import pairwise

import pysubs2
import pytest
import webvtt
from hypothesis import given, settings as profile, strategies as st

from studio.deliver.subtitles import MAX_MS, to_srt, to_vtt
from studio.model.speech import Cue

HOSTILE = [
    "R&D: knee <90 & more",
    "a --> b",
    "--> <b>bold</b> &lt; &amp;",
    "00:00:01.000 --> 00:00:02.000",
    "\U0001f6a3 rowing \U0001f468\u200d\U0001f469\u200d\U0001f467",
    "\u0634\u0643\u0631\u0627 \u05e9\u05dc\u05d5\u05dd",
    "NOTE not a note",
    "WEBVTT",
    "STYLE",
    "7",
    "{\\an8}top \\N line",
    "tab\tand\x00nul\x0bvt\u2028ls",
    "caf\u00e9 \u201cquoted\u201d 27\u00b0",
]


def plain(text):
    return " ".join(re.sub(r"[\x00-\x1f\u2028]+", " ", text).split())


@pytest.mark.parametrize("line", HOSTILE)
def test_webvtt_survives_webvtt_py(line):
    cues = (Cue(0, 1000, ("before",)), Cue(1000, 2500, (line, "", "second")))
    made = to_vtt(cues)
    read = list(webvtt.from_buffer(io.StringIO(made)))
    assert len(read) == 2
    assert plain(html.unescape(read[1].raw_text).replace("\n", " ")) == plain(line) + " second"
    assert (read[1].start, read[1].end) == ("00:00:01.000", "00:00:02.500")


# pysubs2 takes any line with two time stamps for a timing, in both formats
@pytest.mark.parametrize("line", [line for line in HOSTILE if line.count("00:00") < 2])
def test_both_formats_survive_pysubs2(line):
    cues = (Cue(0, 1000, ("before",)), Cue(1000, 2500, (line, "second")))
    for text, kind in ((to_srt(cues), "srt"), (to_vtt(cues), "vtt")):
        read = pysubs2.SSAFile.from_string(text, format_=kind)
        assert [(e.start, e.end) for e in read] == [(0, 1000), (1000, 2500)]
        assert "second" in read[1].plaintext
        assert read[0].plaintext == "before"


@pytest.mark.parametrize("line", ["R&D: knee <90 & more", "a < b > c", "27\u00b0 caf\u00e9", "7"])
def test_srt_words_survive(line):
    read = pysubs2.SSAFile.from_string(to_srt((Cue(0, 1000, (line,)),)), format_="srt")
    same = read[0].plaintext.replace("\u2039", "<").replace("\u203a", ">")
    assert same == line


def test_webvtt_grammar():
    """W3C WebVTT section 4.1: header, blank line, timings, no arrow and no bare & or < in text."""
    made = to_vtt((Cue(0, 900, ("a & b <c> -->",)), Cue(3_600_000, 3_601_001, ("x", " ", "y"))))
    assert made == (
        "WEBVTT\n\n00:00:00.000 --> 00:00:00.900\na &amp; b &lt;c&gt; --&gt;\n\n"
        "01:00:00.000 --> 01:00:01.001\nx\ny\n"
    )
    assert to_vtt(()) == "WEBVTT\n"
    assert to_srt(()) == ""


def test_srt_by_the_book():
    made = to_srt((Cue(3_599_999, 3_601_001, ("One", "two")), Cue(4_000_000, 4_001_000, ("x",))))
    assert made == (
        "1\n00:59:59,999 --> 01:00:01,001\nOne\ntwo\n\n2\n01:06:40,000 --> 01:06:41,000\nx\n\n"
    )


def test_cues_out_of_order_or_without_length_are_written_right():
    cues = (Cue(5000, 5000, ("b",)), Cue(1000, 900, ("a",)), Cue(5000, 6000, ("c",)))
    starts = [c.start_in_seconds for c in webvtt.from_buffer(io.StringIO(to_vtt(cues)))]
    assert len(starts) == 3
    assert starts == sorted(starts)
    assert to_srt((Cue(MAX_MS, MAX_MS + 1, ("late",)),)) == ""


@given(
    st.lists(
        st.tuples(
            st.integers(0, 10**7),
            st.integers(1, 9000),
            st.lists(st.text(max_size=30), min_size=1, max_size=2),
        ),
        max_size=6,
    )
)
@profile(max_examples=80, deadline=None)
def test_any_text_keeps_count_and_times(rows):
    cues = [Cue(start, start + length, tuple(lines)) for start, length, lines in rows]
    made = to_vtt(cues)
    read = list(webvtt.from_buffer(io.StringIO(made)))
    again = pysubs2.SSAFile.from_string(made, format_="vtt")
    srt = pysubs2.SSAFile.from_string(to_srt(cues), format_="srt")
    assert len(read) == len(again) == len(srt) == len(cues)
    assert [e.start for e in again] == [e.start for e in srt]
    assert all(b.start > a.start for a, b in pairwise(again))
