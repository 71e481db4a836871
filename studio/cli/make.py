"""`launchside make DIR`."""

from __future__ import annotations

from pathlib import Path

import click

from studio.cli.options import FILE, progress_of, quiet


@click.command(help="Make the episode in DIR: run whatever is stale, and nothing else.")
@click.argument("folder", metavar="DIR", type=FILE)
@click.option(
    "--captions",
    type=FILE,
    help="Your own captions (.srt or .vtt) instead of transcribing; kept in episode.toml.",
)
@click.option("--force", is_flag=True, help="Run every stage, stale or not.")
@quiet
def command(folder: Path, captions: Path | None, force: bool, quiet: bool) -> None:
    """Run the pipeline, then say what was made and where."""
    from studio.episode import open_episode
    from studio.episode_file import set_source
    from studio.pipeline import make
    from studio.stages import STAGES

    if captions is not None:
        set_source(folder, "captions", captions)
    episode = open_episode(folder)
    ran = make(episode, STAGES, progress=progress_of(quiet), force=force)
    if quiet:
        return
    if not ran:
        click.echo(f"Nothing has changed. The episode is in {episode.out}")
        return
    for done in ran:
        click.echo(f"{done.stage:<10} {done.wall_s:6.1f} s  ({done.reason})", err=True)
    files = sorted(p for p in episode.out.rglob("*") if p.is_file())
    click.echo(f"Made {len(files)} files in {episode.out}")
    for path in files:
        click.echo(f"  {path.relative_to(episode.out)}")
