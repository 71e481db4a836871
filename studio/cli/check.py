"""`launchside check CLIP`: is it good enough to review, and what to tell the athlete."""

from __future__ import annotations

from pathlib import Path

import click

from studio.cli.options import FILE, captured_fps, follow_athlete, json_file, weights


@click.command()
@click.argument("clip", type=FILE)
@json_file()
@captured_fps
@weights
def command(clip: Path, file: Path | None, captured_fps: float | None, weights: str) -> None:
    """Say whether CLIP is good enough to review, with a note to send back to the athlete."""
    from studio.config import Corrections
    from studio.errors import EvidenceError
    from studio.model.technique import Technique
    from studio.store import write_json
    from studio.technique.analyse import analyse
    from studio.technique.check import check

    media, pose, settings = follow_athlete(clip, captured_fps, weights)
    technique: Technique | EvidenceError
    try:
        technique = analyse(pose, media, settings, Corrections())
    except EvidenceError as error:
        technique = error
    result = check(media, pose, technique, settings)
    if file is not None:
        plain = {
            "schema": "launchside.check",
            "version": 1,
            "fit": result.fit,
            "points": [
                {"name": p.name, "good": p.good, "seen": p.seen, "change": p.change}
                for p in result.points
            ],
            "note": result.note,
        }
        write_json(file, plain)
    for point in result.points:
        click.echo(f"{'good' if point.good else 'CHANGE'}: {point.name}: {point.seen}")
    click.echo(f"\nNote for the athlete:\n{result.note}")
    if not result.fit:
        raise EvidenceError(
            f"{clip}: not yet good enough to review.", "Send the note above to the athlete."
        )
