"""`launchside models`: fetch or list the pose weights and speech models."""

from __future__ import annotations

import click


@click.command()
@click.argument("name", required=False, type=click.Choice(["heavy"]))
def command(name: str | None) -> None:
    """List the models on this computer, or fetch one: heavy = the heavier pose weights, by npm."""
    from studio.progress import Terminal
    from studio.technique import models

    if name == "heavy":
        path = models.fetch_heavy(Terminal())
        click.echo(f"The heavy pose weights are at {path}; they are used from now on.")
        return
    heavy = models.heavy_weights()
    click.echo("pose, full: in the mediapipe package")
    click.echo(f"pose, heavy: {heavy or 'not here; `launchside models heavy` fetches them'}")
