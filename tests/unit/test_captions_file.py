"""The coach's own caption files, however rough."""

import pytest
from hypothesis import HealthCheck, given, settings as profile, strategies as st

from studio.errors import MediaError
from studio.speech.caption_file import MAX_BYTES, read_captions

SRT = """1
00:00:01,000 --> 00:00:03,000
Hands away first,
and then the body.

2
00:00:03,000 --> 00:00:05,000
Good. Now the <i>catch</i>.
"""
VTT = """WEBVTT - a title

NOTE
nothing --> here

STYLE
::cue { color: red }

intro
00:01.000 --> 00:03.000 align:start line:90%
<v Coach>Hands away first,
and then the body.

00:00:03.000 --> 00:00:05.000
Good. Now R&amp;D the <c.red>catch</c>.
"""


@pytest.fixture
def file(tmp_path):
    def write(content, name="c.srt"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


def sentences(path):
    return [s.text for s in read_captions(path).sentences]


EXPECTED = ["Hands away first, and then the body.", "Good.", "Now the catch."]


@pytest.mark.parametrize(
    "content",
    [
        SRT.encode(),
        b"\xef\xbb\xbf" + SRT.encode(),
        SRT.replace("\n", "\r\n").encode(),
        SRT.replace("\n", "\r").encode(),
        SRT.encode("utf-16"),
        SRT.replace("1\n00", "00").replace("2\n00", "00").encode(),
        SRT.replace("\n\n2\n", "\n2\n").encode(),
        SRT.replace(",000", ".000").encode(),
        SRT.replace("Good", "{\\an8}Good").encode(),
        SRT.replace("Good", "Go\x00od").encode(),
        SRT.replace(" --> ", "-->").encode(),
        (SRT + "\n3\n00:00:xx --> 00:00:09,000\nlost\n").encode(),
        ("\n\n" + SRT.replace("Good.", "[Music] ♪ >> Good.")).encode(),
    ],
    ids=["plain", "bom", "crlf", "cr", "utf16", "no-counter", "no-blank", "stops", "position",
         "nul", "tight", "rubbish", "labels"],
)  # fmt: skip
def test_rough_subrip(file, content):
    found = sentences(file(content))
    assert found[-1] == "Now the catch."
    assert found[0] == EXPECTED[0]


def test_webvtt(file):
    made = read_captions(file(VTT, "c.vtt"))
    assert [s.text for s in made.sentences] == [*EXPECTED[:2], "Now R&D the catch."]
    assert made.words[0].start_s == 1.0
    assert made.words[-1].end_s == 5.0
    assert all(
        a.end_s <= b.start_s + 1e-6 for a, b in zip(made.words, made.words[1:], strict=False)
    )
    assert made.source == "c.vtt"


def test_latin_letters_of_an_old_file(file):
    assert "café 27°" in sentences(file(SRT.replace("catch", "café 27°").encode("cp1252")))[-1]


def test_rolling_captions_are_said_once(file):
    rolled = "".join(
        f"{i + 1}\n00:00:0{i},000 --> 00:00:0{i + 1},000\n{a}\n{b}\n\n"
        for i, (a, b) in enumerate([("one.", "two."), ("two.", "three."), ("three.", "four.")])
    )
    assert sentences(file(rolled)) == ["one.", "two.", "three.", "four."]


def test_captions_without_full_stops_become_sentences(file):
    text = (
        "hello and welcome back to the show|today we look at the catch|and then at the finish "
        "okay so here|is the clip i like the way the hands go|away first now watch the handle as "
        "it|comes to the knees|your back stays still through the|drive and that's really good "
        "so what would i|change let's start with the catch"
    )
    ends = [2 * i + (1.7 if i in (0, 5) else 2) for i in range(9)]
    blocks = "".join(
        f"{i + 1}\n00:00:{2 * i:02d},000 --> 00:00:{ends[i]:06.3f}\n{line}\n\n"
        for i, line in enumerate(text.split("|"))
    )
    found = sentences(file(blocks))
    assert " ".join(found).lower().replace(".", "").replace("?", "") == text.replace("|", " ")
    assert all(s[0].isupper() and s[-1] in ".?" for s in found)
    assert "Now watch the handle as it comes to the knees." in found
    assert any(s.startswith("Okay so here is the clip") for s in found)
    assert any(s.startswith("Let's start") for s in found)


@pytest.mark.parametrize(
    "content",
    [b"", b"\n\n", b"WEBVTT\n\n", b"just a text\n", bytes(range(256)) * 10, b"\x00" * 5000,
     b"1\n99:99:99,999 --> 00:00:00,000\nx\n", b"\xff\xfe\x00"],
)  # fmt: skip
def test_what_holds_no_captions(file, content):
    with pytest.raises(MediaError) as caught:
        read_captions(file(content))
    assert "c.srt" in str(caught.value)
    assert caught.value.hint


def test_missing_folder_and_huge(file, tmp_path):
    for path in (tmp_path / "none.srt", tmp_path, file(b"x" * (MAX_BYTES + 1), "big.srt")):
        with pytest.raises(MediaError):
            read_captions(path)


@given(st.one_of(st.binary(max_size=400), st.text(max_size=200).map(lambda t: SRT.encode()
                 + t.encode("utf-8", "surrogatepass"))))  # fmt: skip
@profile(
    max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_anything_is_read_or_refused(tmp_path, content):
    path = tmp_path / "any.srt"
    path.write_bytes(content)
    try:
        made = read_captions(path)
    except MediaError:
        return
    assert made.words
    assert all(w.end_s >= w.start_s >= 0 for w in made.words)
