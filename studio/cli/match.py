"""`launchside match RECORDING CLIP`."""

from __future__ import annotations

import json
from pathlib import Path

import click


@click.command(help="Find which moment of CLIP is on screen, all through RECORDING.")
@click.argument("recording", type=click.Path(path_type=Path))
@click.argument("clip", type=click.Path(path_type=Path))
@click.option(
    "--json",
    "file",
    required=True,
    type=click.Path(path_type=Path),
    help="Where to write samples, placements and spans.",
)
@click.option("-q", "--quiet", is_flag=True, help="Say nothing but errors.")
def command(recording: Path, clip: Path, file: Path, quiet: bool) -> None:
    """Follow one clip through one recording and write the contract's JSON."""
    from studio.ingest.probe import probe
    from studio.playhead.contract import to_contract
    from studio.playhead.follow import follow
    from studio.progress import Quiet, Terminal
    from studio.store import write_text

    progress = Quiet() if quiet else Terminal()
    playhead = follow(recording, probe(recording), clip, probe(clip), progress=progress)
    write_text(file, json.dumps(to_contract(playhead), indent=1) + "\n")
    if quiet:
        return
    for notice in playhead.notices:
        click.echo(notice)
    shown = float((playhead.state != 0).mean())
    click.echo(
        f"{len(playhead.recording_s)} frames, the clip on screen in {shown:.0%} of them, "
        f"{len(playhead.spans)} spans: {file}"
    )
