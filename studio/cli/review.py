"""`launchside review DIR`."""

from __future__ import annotations

from pathlib import Path

import click

from studio.cli.options import FILE


@click.command(help="Open the coach's desk for the episode in DIR, in the browser.")
@click.argument("folder", metavar="DIR", type=FILE)
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=0,
    help="Port of this computer to serve on; any free one when left out.",
)
@click.option("--no-browser", is_flag=True, help="Only print the address.")
def command(folder: Path, port: int, no_browser: bool) -> None:
    """Serve the page on 127.0.0.1 until interrupted."""
    from studio.review.server import serve

    def tell(address: str) -> None:
        click.echo(f"The desk is open at {address}")
        click.echo("The link works once. Everything is saved as you go; Ctrl-C closes the desk.")

    serve(folder, port=port, browser=not no_browser, tell=tell)
