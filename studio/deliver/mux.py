"""Picture, sound, captions and chapters into one file that plays everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from studio.deliver.ffmpeg import run
from studio.deliver.subtitles import to_vtt
from studio.model.speech import Chapter, Cue
from studio.timebase import s_to_ms

LANGUAGES = {
    "de": "ger", "en": "eng", "es": "spa", "fr": "fre", "it": "ita", "ja": "jpn", "ko": "kor",
    "nl": "dut", "pl": "pol", "pt": "por", "zh": "chi",
}  # fmt: skip
"""BCP 47 primary tags to ISO 639-2/B, which MP4 language fields hold; others become "und"."""


def mux(
    out: Path,
    *,
    picture: Path,
    sound: Path | None,
    cues: Sequence[Cue],
    chapters: Sequence[Chapter],
    duration_s: Fraction,
    language: str,
    title: str,
    folder: Path,
) -> None:
    """Write the MP4: index in front, soft captions, chapters, languages; nothing is encoded.

    Args:
        out: Written in place; hand it a temporary name.
        picture: MP4 with the H.264 picture, copied as it is.
        sound: MP4 with the AAC sound, copied with its edit list, which hides the encoder's first
            samples; None = no sound track.
        cues: Program time.
        chapters: Program time.
        duration_s: Of the program.
        language: BCP 47, of voice and captions.
        title: For the file's title field; may be empty.
        folder: For working files.

    Raises:
        ToolError: ffmpeg is missing.
        OutputError: It failed.
    """
    code = LANGUAGES.get(language.split("-")[0].lower(), "und")
    inputs = ["-i", str(picture)]
    maps = ["-map", "0:v:0"]
    codecs = ["-c:v", "copy", "-metadata:s:v:0", "language=und"]
    if sound is not None:
        inputs += ["-i", str(sound)]
        maps += ["-map", "1:a:0"]
        codecs += ["-c:a", "copy", "-metadata:s:a:0", f"language={code}"]
    if cues:
        captions = folder / "captions.vtt"
        captions.write_text(to_vtt(cues), encoding="utf-8")
        inputs += ["-f", "webvtt", "-i", str(captions)]
        maps += ["-map", f"{inputs.count('-i') - 1}:s:0"]
        codecs += ["-c:s", "mov_text", "-metadata:s:s:0", f"language={code}"]
    about = folder / "about.txt"
    about.write_text(_metadata(chapters, duration_s, title), encoding="utf-8")
    inputs += ["-f", "ffmetadata", "-i", str(about)]
    last = str(inputs.count("-i") - 1)
    maps += ["-map_metadata", last, "-map_chapters", last]
    run([*inputs, *maps, *codecs, "-movflags", "+faststart", "-f", "mp4", str(out)], out)


def _metadata(chapters: Sequence[Chapter], duration_s: Fraction, title: str) -> str:
    """FFMETADATA with an explicit time base, from 0 to the program's very end."""
    lines = [";FFMETADATA1"]
    if title:
        lines.append(f"title={_escaped(title)}")
    end_ms = s_to_ms(duration_s)
    starts = [0, *(s_to_ms(c.start_s) for c in chapters[1:])]
    for chapter, start, end in zip(chapters, starts, [*starts[1:], end_ms], strict=False):
        lines += ["[CHAPTER]", "TIMEBASE=1/1000", f"START={start}", f"END={min(end, end_ms)}",
                  f"title={_escaped(chapter.title)}"]  # fmt: skip
    return "\n".join(lines) + "\n"


def _escaped(text: str) -> str:
    for char in "\\=;#":
        text = text.replace(char, "\\" + char)
    return text.replace("\n", "\\\n")
