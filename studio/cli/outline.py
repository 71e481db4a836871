"""`launchside outline CAPTIONS`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from studio.cli.options import FILE, json_file

if TYPE_CHECKING:
    from studio.model.speech import Chapter, Outline, Summary


@click.command(help="Chapters, talking points and summary from CAPTIONS (.srt or .vtt) alone.")
@click.argument("captions", type=FILE)
@json_file("Where to write them; without it they are printed to read.")
@click.option("--title", default="", help="The episode's title.")
@click.option("--alias", default="", help="The name the athlete goes by here.")
@click.option("--club", default="", help="The club's name.")
@click.option("--series", default="", help="The series' name.")
def command(
    captions: Path, file: Path | None, title: str, alias: str, club: str, series: str
) -> None:
    """Outline one caption file and write the contract's JSON, or print it."""
    from studio.config import About, Athlete, Corrections, Settings
    from studio.deliver.chapters import enforce
    from studio.deliver.summary import write_summary
    from studio.speech.caption_file import read_captions
    from studio.speech.outline import outline
    from studio.store import write_json

    about = About(title=title, series=series, club=club)
    settings, corrections = Settings(episode=about, athlete=Athlete(alias)), Corrections()
    transcript = read_captions(captions)
    made = outline(
        transcript, playhead=None, technique=None, settings=settings, corrections=corrections
    )
    chapters = enforce(made.chapters, transcript.sentences[-1].end_s)
    summary = write_summary(made, transcript, None, chapters, settings, corrections)
    if file is None:
        click.echo(_readable(made, chapters, summary))
        return
    write_json(file, _contract(made, chapters, summary))
    click.echo(f"{len(chapters)} chapters, {len(made.points)} talking points: {file}")


def _contract(
    outline: Outline, chapters: tuple[Chapter, ...], summary: Summary
) -> dict[str, object]:
    """The `launchside.outline` shape of docs/data-model.md; times on the captions' clock."""
    from studio.speech.contract import chapter_rows, point_rows

    return {
        "schema": "launchside.outline",
        "version": 1,
        "chapters": chapter_rows(chapters),
        "talking_points": point_rows(outline.points),
        "summary": {
            "description": summary.description,
            "markdown": summary.markdown,
            "post": summary.post,
        },
    }


def _readable(outline: Outline, chapters: tuple[Chapter, ...], summary: Summary) -> str:
    from studio.deliver.chapters import to_text
    from studio.timebase import clock_face

    points = [
        f"{clock_face(p.start_s)} {p.kind.replace('_', ' ')}, {p.phase or 'whole stroke'}, "
        f"{p.topic}: {p.text}"
        for p in outline.points
    ]
    parts = [
        "CHAPTERS", to_text(chapters).rstrip(), "TALKING POINTS", "\n".join(points),
        "DESCRIPTION", summary.description.rstrip(), "POST", summary.post.rstrip(),
    ]  # fmt: skip
    return "\n\n".join(parts)
