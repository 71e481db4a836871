"""`launchside match RECORDING CLIP`."""

from __future__ import annotations

from pathlib import Path

import click

from studio.cli.options import FILE, json_file, progress_of, quiet


@click.command(help="Find which moment of CLIP is on screen, all through RECORDING.")
@click.argument("recording", type=FILE)
@click.argument("clip", type=FILE)
@json_file("Where to write samples, placements and spans.", required=True)
@quiet
def command(recording: Path, clip: Path, file: Path, quiet: bool) -> None:
    """Follow one clip through one recording and write the contract's JSON."""
    from studio.ingest.probe import probe
    from studio.playhead.contract import to_contract
    from studio.playhead.follow import follow
    from studio.store import write_json

    playhead = follow(recording, probe(recording), clip, probe(clip), progress=progress_of(quiet))
    write_json(file, to_contract(playhead))
    if quiet:
        return
    for notice in playhead.notices:
        click.echo(notice)
    shown = float((playhead.state != 0).mean())
    click.echo(
        f"{len(playhead.recording_s)} frames, the clip on screen in {shown:.0%} of them, "
        f"{len(playhead.spans)} spans: {file}"
    )
