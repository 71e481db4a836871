"""`launchside inbox FOLDER`."""

from __future__ import annotations

from pathlib import Path

import click

from studio.cli.options import FILE, weights


@click.command(help="Take in the clips in FOLDER: check each, answer it, make episodes of the fit.")
@click.argument("folder", metavar="FOLDER", type=FILE)
@click.option(
    "--to",
    type=FILE,
    help="Where episodes, notes and the record go; FOLDER-episodes when left out.",
)
@click.option("--watch", is_flag=True, help="Go on until interrupted.")
@click.option("--settle", type=click.FloatRange(0.05, 3600), default=5.0, show_default=True,
              help="Seconds for which a file must stay as it is to have arrived.")  # fmt: skip
@click.option("--series", default="", help="Name of the series, for the episodes.")
@click.option("--club", default="", help="Name of the club, for the episodes.")
@weights
def command(
    folder: Path, to: Path | None, watch: bool, settle: float, series: str, club: str, weights: str
) -> None:
    """Deal with what is there, and with what comes; say what became of each."""
    from studio.errors import LaunchsideError
    from studio.progress import Terminal
    from studio.season.folders import printable
    from studio.season.inbox import Inbox

    place = folder.resolve()
    inbox = Inbox(
        folder,
        to or place.with_name(f"{place.name}-episodes"),
        about={"series": series, "club": club},
        weights=weights,
        progress=Terminal(),
    )
    count: dict[str, int] = {}
    for taken in inbox.watch(settle) if watch else inbox.once(settle):
        count[taken.result] = count.get(taken.result, 0) + 1
        where = next((p for p in (taken.folder, taken.note) if p is not None), None)
        arrow = f" -> {where}" if where else ""
        click.echo(
            f"{taken.result}: {printable(taken.name, 80)} ({printable(taken.reason)}){arrow}"
        )
    summed = ", ".join(f"{n} {result}" for result, n in count.items())
    click.echo(f"Clips dealt with: {summed or 'none new'}.")
    if count.get("failed"):
        raise LaunchsideError(
            f"{count['failed']} clips could not be dealt with.", "They are tried again next time."
        )
