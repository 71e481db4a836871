"""The coach's own captions, SubRip or WebVTT, however roughly made, as a transcript."""

from __future__ import annotations

import html
import re
from pathlib import Path

from studio.errors import MediaError
from studio.model.speech import Transcript, Word
from studio.speech.sentences import split, spread
from studio.speech.unpunctuated import punctuate, unpunctuated

MAX_BYTES = 10 << 20
"""A caption file of ten hours of talk is under 2 MB."""
MAX_HOURS = 24

_Line = tuple[float, float, list[str]]
_STAMP = r"(?:\d{1,4}:)?\d{1,2}:\d{1,2}[.,]\d{1,3}"
_MISWRITTEN = re.compile(r"^[\d\s:.,;-]*--+>|:\S*\s*--+>")
"""A timing, but not one that can be read; an arrow between words is neither."""
LONGEST = 60
"""Letters of a word; more are no word of any language, but would keep the reader for hours."""
_TIMING = re.compile(rf"^\s*({_STAMP})\s*--+>\s*({_STAMP})")


def read_captions(path: Path) -> Transcript:
    """Read an .srt or .vtt file; words get times in proportion to their letters.

    Tags, positions, sound labels and repeated rolling lines are dropped. Text without full stops
    is cut into sentences by pauses and connectives.

    Raises:
        MediaError: Missing, too large, binary, or no caption can be read in it.
    """
    text = _decoded(path)
    try:
        cues = _vtt(text) if text.lstrip().startswith("WEBVTT") else _srt(text)
    except (ValueError, RecursionError, OverflowError) as error:
        raise MediaError(f"{path}: no captions can be read ({error}).", _HINT) from error
    words = _words(cues)
    if not words:
        raise MediaError(f"{path}: holds no captions.", _HINT)
    if unpunctuated(words):
        words = list(punctuate(words))
    return Transcript("en", tuple(words), split(words), path.name)


_HINT = "Name an .srt or .vtt file, and see that it opens in a text editor."


def _decoded(path: Path) -> str:
    try:
        size = path.stat().st_size
        if not path.is_file():
            raise MediaError(f"{path}: not a file.", _HINT)
        if size > MAX_BYTES:
            raise MediaError(f"{path}: too large for a caption file ({size >> 20} MB).", _HINT)
        data = path.read_bytes()
    except OSError as error:
        raise MediaError(f"{path}: cannot be read ({error.strerror}).", _HINT) from error
    return _text(path, data).replace("\r\n", "\n").replace("\r", "\n")


def _text(path: Path, data: bytes) -> str:
    """Bytes as text: by byte order mark, as UTF-8, else as Windows-1252."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace").replace("\x00", "")
    if data.count(0) > max(8, len(data) // 1000):
        raise MediaError(f"{path}: not a text file.", _HINT)
    data = data.replace(b"\x00", b"")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _srt(text: str) -> list[_Line]:
    """Captions of SubRip text by pysrt; blocks it cannot read are passed over."""
    from pysrt import SubRipFile

    # pysrt ends a block at a blank line; files typed by hand may lack them or the counters
    lines = re.sub(r"\n[ \t]+\n", "\n\n", text).split("\n")
    rebuilt: list[str] = []
    number, lost = 0, False
    for i, line in enumerate(lines):
        if _TIMING.match(line):
            if rebuilt and rebuilt[-1].strip().isdigit():
                rebuilt.pop()
            number, lost = number + 1, False
            rebuilt += ["", str(number), line.replace(".", ",")]
        elif _MISWRITTEN.search(line):
            lost = True  # a timing that cannot be read: its words have no place
            if rebuilt and rebuilt[-1].strip().isdigit():
                rebuilt.pop()
        elif lost:
            continue
        elif line.strip() or (i + 1 < len(lines) and not lines[i + 1].strip()):
            rebuilt.append(line)
    items = SubRipFile.from_string("\n".join(rebuilt) + "\n", error_handling=SubRipFile.ERROR_PASS)
    return [
        (item.start.ordinal / 1000, item.end.ordinal / 1000, item.text.split("\n"))
        for item in items
    ]


def _vtt(text: str) -> list[_Line]:
    """Captions of WebVTT text (W3C WebVTT 6.1): blocks with a timing line, no others."""
    made: list[_Line] = []
    for block in re.split(r"\n[ \t]*\n", text):
        lines = block.strip("\n").split("\n")
        at = next((i for i, line in enumerate(lines[:2]) if _TIMING.match(line)), None)
        timing = _TIMING.match(lines[at]) if at is not None else None
        if at is not None and timing is not None:
            made.append((_seconds(timing[1]), _seconds(timing[2]), lines[at + 1 :]))
    return made


def _seconds(stamp: str) -> float:
    *above, seconds = stamp.replace(",", ".").split(":")
    minutes = int(above[-1]) + (60 * int(above[-2]) if len(above) > 1 else 0)
    return 60 * minutes + float(seconds)


def _words(cues: list[_Line]) -> list[Word]:
    """Words of all captions in order, none overlapping, rolling repeats dropped."""
    kept: list[tuple[float, float, str]] = []
    last = ""
    for start, end, lines in sorted(cues, key=lambda c: (c[0], c[1])):
        clean = [line for line in map(_clean, lines) if line]
        fresh = clean[1:] if clean and clean[0] == last and len(clean) > 1 else clean
        if clean and clean == [last] and kept and start - kept[-1][1] < 0.1:
            fresh = []
        last = clean[-1] if clean else last
        if fresh and 0 <= start < end <= 3600 * MAX_HOURS:
            if kept and kept[-1][0] == start:  # shown at once, one above the other
                _, sooner, above = kept.pop()
                fresh, end = [above, *fresh], max(sooner, end)
            kept.append((start, end, " ".join(fresh)))
    words: list[Word] = []
    for i, (start, end, text) in enumerate(kept):
        until = min(end, kept[i + 1][0]) if i + 1 < len(kept) else end
        words += spread(text, start, until)
    return words


def _clean(line: str) -> str:
    """A line as spoken: no tags, positions, notes, sound labels or speaker marks."""
    line = re.sub(r"<[^<>]*>|\{\\[^{}]*\}", "", line)
    line = html.unescape(line)
    line = re.sub(r"\[[^\[\]]*\]|[\u266a\u266b\u266c]", " ", line)
    line = re.sub(r"^\s*(?:>>+|-\s)\s*", "", line)
    line = re.sub(
        r"[\x00-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2028\u2029\u2066-\u2069\ufeff]", " ", line
    )
    return " ".join(word[:LONGEST] for word in line.split())
