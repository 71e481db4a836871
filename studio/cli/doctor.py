"""`launchside doctor`."""

from __future__ import annotations

import click


@click.command(help="Say what this computer has: versions, models, fonts, free disk.")
def command() -> None:
    """Print a table; exit 5 when something that is needed is missing."""
    from studio.doctor import look

    checks = look()
    for check in checks:
        click.echo(f"{'ok ' if check.good else 'NO '} {check.name:<24} {check.found}")
        if not check.good and check.remedy:
            click.echo(f"    {check.remedy}")
    if not all(check.good for check in checks):
        raise SystemExit(5)
