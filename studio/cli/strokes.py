"""`launchside strokes CLIP`: measure the strokes of a clip."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from studio.config import Settings
    from studio.model.technique import Technique

captured_fps = click.option(
    "--captured-fps",
    type=click.FloatRange(1, 2000),
    help="Frames a second at capture, for slow motion.",
)
weights = click.option(
    "--weights",
    type=click.Choice(["auto", "full", "heavy"]),
    default="auto",
    show_default=True,
    help="Pose weights; auto takes the heavy ones once they are fetched.",
)


def settings_of(captured: float | None) -> Settings:
    """Settings for a clip on its own, outside any episode."""
    from studio.config import ClipSettings, Settings

    return Settings(clip=ClipSettings(captured_fps=captured or 0.0))


@click.command()
@click.argument("clip", type=click.Path(path_type=Path))
@click.option("--json", "json_path", type=click.Path(path_type=Path), help="Write the result here.")
@captured_fps
@weights
def command(clip: Path, json_path: Path | None, captured_fps: float | None, weights: str) -> None:
    """Measure the strokes of CLIP: catches, finishes, angles, measures and findings."""
    from studio.config import Corrections
    from studio.errors import MediaError
    from studio.ingest.probe import probe
    from studio.progress import Terminal
    from studio.store import write_text
    from studio.technique.analyse import analyse
    from studio.technique.contract import to_contract
    from studio.technique.pose import track_pose

    media = probe(clip)
    if media.video is None:
        raise MediaError(f"{clip}: there is no picture in it.", "Give the athlete's video.")
    pose = track_pose(clip, media.video, weights=weights, progress=Terminal())
    technique = analyse(pose, media, settings_of(captured_fps), Corrections())
    if json_path is not None:
        plain = to_contract(technique, media)
        write_text(json_path, json.dumps(plain, indent=1, allow_nan=False) + "\n")
    for notice in (*media.notices, *technique.notices):
        print(f"note: {notice}")
    _show(technique)
    where = f", written to {json_path}" if json_path else ""
    print(f"{len(technique.strokes)} strokes, {len(technique.findings)} findings{where}.")


def _show(technique: Technique) -> None:
    for stroke in technique.strokes:
        ends = (stroke.catch_s, stroke.finish_s)
        catch, finish = ("-" if t is None else f"{t:.2f} s" for t in ends)
        part = "" if stroke.complete else "  (incomplete)"
        print(f"stroke {stroke.index + 1}: catch {catch}, finish {finish}{part}")
    for m in technique.measures:
        if m.value is not None:
            spread = f" +- {m.spread:.2g}" if m.spread is not None else ""
            print(f"{m.label}: {m.value:.3g}{spread} {m.unit}")
    for finding in technique.findings:
        print(f"{finding.kind}: {finding.text} {finding.coaching_cue}")
    print(f"weights: {technique.body.source}. Grip cannot be judged from the side.")
