"""The index of a season: every episode with its chapters, its key points and its files."""

from __future__ import annotations

import os
from collections.abc import Sequence
from html import escape
from pathlib import Path
from urllib.parse import quote

from studio.season.history import Entry
from studio.timebase import clock_face

MOST = 4
"""Key points of each kind."""
WORDS = {"keep": "Keep", "change": "Change", "coaching_cue": "Coaching cue", "drill": "Drill"}
FILES = {"episode.mp4": "film", "report.html": "report", "summary.md": "summary"}


def index(entries: Sequence[Entry], base: Path) -> str:
    """The section as HTML; links are relative to the folder `base`."""
    shown = "\n".join(_episode(entry, base) for entry in entries)
    return f'<section>\n<h2 id="episodes">Episodes</h2>\n{shown}\n</section>'


def _episode(entry: Entry, base: Path) -> str:
    out = entry.folder / "out"
    links = [
        f'<a href="{_link(out / name, base)}">{word}</a>'
        for name, word in FILES.items()
        if (out / name).is_file()
    ]
    alias = entry.athlete.alias or "no alias given: not followed over the season"
    shown = "" if entry.athlete.consent == "yes" else "no consent to show the face: blurred"
    about = " · ".join([escape(alias), *([escape(shown)] if shown else []), *links])
    trouble = "".join(f'<p class="trouble">{escape(t)}</p>' for t in entry.troubles)
    head = f'<h3>{escape(entry.name)}</h3><p class="about">{about}</p>{trouble}'
    parts = [f"<header>{head}</header>", _chapters(entry, base), _points(entry)]
    return "\n".join(["<article>", *(part for part in parts if part), "</article>"])


def _chapters(entry: Entry, base: Path) -> str:
    if entry.plan is None or not entry.plan.chapters:
        return ""
    film = entry.folder / "out" / "episode.mp4"
    items = []
    for chapter in entry.plan.chapters:
        at = clock_face(chapter.start_s)
        if film.is_file():
            at = f'<a href="{_link(film, base)}#t={chapter.start_s:.2f}">{at}</a>'
        items.append(f'<li><span class="at">{at}</span> {escape(chapter.title)}</li>')
    return f"<ol>{''.join(items)}</ol>"


def _points(entry: Entry) -> str:
    """What was said, or where nothing was, what the clip shows."""
    points: list[tuple[str, str]] = []
    if entry.outline is not None:
        points = [(p.kind, p.text) for p in entry.outline.points]
    elif entry.technique is not None:
        points = [(f.kind, f.text) for f in entry.technique.findings]
    items = [
        f'<li class="{kind}"><span class="kind">{word}.</span> {escape(text)}</li>'
        for kind, word in WORDS.items()
        for text in [t for k, t in points if k == kind][:MOST]
    ]
    return f"<ul>{''.join(items)}</ul>" if items else '<p class="soft">No key points.</p>'


def _link(path: Path, base: Path) -> str:
    return escape(quote(Path(os.path.relpath(path, base)).as_posix()))
