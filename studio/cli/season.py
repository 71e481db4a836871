"""`launchside season DIR...`."""

from __future__ import annotations

from pathlib import Path

import click


@click.command(help="How each athlete's measures go over the episodes, and an index of them.")
@click.argument("folders", metavar="DIR...", nargs=-1, required=True,
                type=click.Path(path_type=Path))  # fmt: skip
@click.option(
    "--to",
    type=click.Path(path_type=Path),
    help="Where season.html and season.csv go; the folder that holds the episodes when left out.",
)
def command(folders: tuple[Path, ...], to: Path | None) -> None:
    """Read the episodes as they stand, then write the page and the table."""
    import os

    from studio.errors import ConfigError
    from studio.season.folders import episodes_in, is_episode, printable
    from studio.season.history import histories, read_season
    from studio.season.page import season_page
    from studio.season.table import season_csv
    from studio.store import write_text

    episodes = episodes_in(folders)
    if not any(map(is_episode, episodes)):
        raise ConfigError(f"{folders[0]}: no episode is there.", "Give folders of episodes.")
    base = (to or Path(os.path.commonpath([e.parent for e in episodes]))).resolve()
    entries = read_season(episodes)
    athletes = histories(entries)
    write_text(base / "season.html", season_page(entries, athletes, base))
    write_text(base / "season.csv", season_csv(athletes))
    for entry in entries:
        for trouble in entry.troubles:
            click.echo(f"{printable(entry.folder.name)}: {printable(trouble)}", err=True)
    changes = [c.change for a in athletes for c in a.courses if c.change is not None]
    real = sum(c.verdict != "no change" for c in changes)
    click.echo(f"{len(entries)} episodes, {len(athletes)} athletes.")
    click.echo(f"{real} of {len(changes)} measures changed by more than their error.")
    click.echo(f"Written: {base / 'season.html'}, and season.csv beside it.")
