"""`launchside strokes CLIP`: measure the strokes of a clip."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from studio.cli.options import FILE, captured_fps, follow_athlete, json_file, weights

if TYPE_CHECKING:
    from studio.model.technique import Technique


@click.command()
@click.argument("clip", type=FILE)
@json_file()
@captured_fps
@weights
def command(clip: Path, file: Path | None, captured_fps: float | None, weights: str) -> None:
    """Measure the strokes of CLIP: catches, finishes, angles, measures and findings."""
    from studio.config import Corrections
    from studio.store import write_json
    from studio.technique.analyse import analyse
    from studio.technique.contract import to_contract

    media, pose, settings = follow_athlete(clip, captured_fps, weights)
    technique = analyse(pose, media, settings, Corrections())
    if file is not None:
        write_json(file, to_contract(technique, media))
    for notice in (*media.notices, *technique.notices):
        click.echo(f"note: {notice}")
    _show(technique)
    where = f", written to {file}" if file else ""
    click.echo(f"{len(technique.strokes)} strokes, {len(technique.findings)} findings{where}.")


def _show(technique: Technique) -> None:
    for stroke in technique.strokes:
        ends = (stroke.catch_s, stroke.finish_s)
        catch, finish = ("-" if t is None else f"{t:.2f} s" for t in ends)
        part = "" if stroke.complete else "  (incomplete)"
        click.echo(f"stroke {stroke.index + 1}: catch {catch}, finish {finish}{part}")
    for m in technique.measures:
        if m.value is not None:
            spread = f" +- {m.spread:.2g}" if m.spread is not None else ""
            click.echo(f"{m.label}: {m.value:.3g}{spread} {m.unit}")
    for finding in technique.findings:
        click.echo(f"{finding.kind}: {finding.text} {finding.coaching_cue}")
    click.echo(f"weights: {technique.body.source}. Grip cannot be judged from the side.")
