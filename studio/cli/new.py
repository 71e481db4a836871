"""`launchside new DIR`."""

from __future__ import annotations

from pathlib import Path

import click

from studio.cli.options import FILE


@click.command(help="Make an episode folder DIR from a recording, a clip, or both.")
@click.argument("folder", metavar="DIR", type=FILE)
@click.option("--recording", type=FILE, help="Your talk-over screen recording.")
@click.option("--clip", type=FILE, help="The athlete's own video.")
@click.option("--captions", type=FILE, help="Your own captions (.srt or .vtt), if you have them.")
@click.option("--title", default="", help="Title of the episode.")
@click.option("--series", default="", help="Name of the series.")
@click.option("--club", default="", help="Name of the club.")
@click.option("--alias", default="", help="Name to use for the athlete.")
@click.option("--height-cm", type=float, default=0.0, help="The athlete's height.")
@click.option(
    "--consent",
    type=click.Choice(["yes", "no", "unknown"]),
    default="unknown",
    show_default=True,
    help="Did the athlete agree to be shown unblurred?",
)
@click.option("--captured-fps", type=float, default=0.0, help="Frames a second at capture.")
def command(folder: Path, recording: Path | None, clip: Path | None, captions: Path | None,
            captured_fps: float, height_cm: float, **about: str) -> None:  # fmt: skip
    """Check the sources, then write the folder."""
    from studio.episode_file import write_new

    if recording is None and clip is None:
        raise click.UsageError("Give --recording, --clip, or both.")
    sources = {"recording": recording, "clip": clip, "captions": captions}
    notices = write_new(
        folder, {k: v for k, v in sources.items() if v}, about, height_cm, captured_fps
    )
    for notice in notices:
        click.echo(notice)
    click.echo(
        f"Made {folder}. Look over {folder / 'episode.toml'}, then: launchside make {folder}"
    )
