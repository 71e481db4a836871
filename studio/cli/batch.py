"""`launchside batch DIR...`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from studio.cli.options import FILE

if TYPE_CHECKING:
    from studio.season.batch import Outcome


@click.command(help="Make many episodes. DIR is an episode folder, or a folder of them.")
@click.argument("folders", metavar="DIR...", nargs=-1, required=True, type=FILE)
@click.option("--workers", type=click.IntRange(1, 64),
              help="Processes at work at once; half of the processors when left out.")  # fmt: skip
@click.option("--cluster", metavar="ADDRESS",
              help="Scheduler of a Dask cluster to work on instead.")  # fmt: skip
@click.option("--force", is_flag=True, help="Run every stage, stale or not.")
@click.option("-q", "--quiet", is_flag=True, help="Only the table.")
def command(
    folders: tuple[Path, ...], workers: int | None, cluster: str | None, force: bool, quiet: bool
) -> None:
    """Give the episodes out, say how each went, and end with a table."""
    from studio.errors import LaunchsideError, ToolError
    from studio.season.batch import exit_code, in_order, run
    from studio.season.crew import Cluster, Local, usual_workers
    from studio.season.folders import episodes_in

    if cluster and workers:
        raise click.UsageError("--workers is for this computer; a cluster has its own workers.")
    episodes = episodes_in(folders)
    outcomes: list[Outcome] = []
    many = min(workers or usual_workers(), len(episodes))
    with Cluster(cluster) if cluster else Local(many) as crew:
        try:
            for outcome in run(episodes, crew, force=force):
                outcomes.append(outcome)
                if not quiet:
                    click.echo(f"{len(outcomes)}/{len(episodes)} {_told(outcome)}", err=True)
        except ToolError:
            click.echo(_table(in_order(episodes, outcomes)))
            raise
    ordered = in_order(episodes, outcomes)
    click.echo(_table(ordered))
    code = exit_code(ordered)
    if code:
        failed = sum(o.result == "failed" for o in ordered)
        error = LaunchsideError(
            f"{failed} of {len(ordered)} episodes failed.",
            "Mend what the table says and run the same command again; the others stay as they are.",
        )
        error.exit_code = code
        raise error


def _told(outcome: Outcome) -> str:
    from studio.season.folders import printable

    reason = f" ({printable(outcome.reason)})" if outcome.result == "failed" else ""
    return f"{printable(outcome.folder.name)}: {outcome.result}, {outcome.seconds:.1f} s{reason}"


def _table(outcomes: list[Outcome]) -> str:
    from studio.season.folders import printable

    rows = [("episode", "outcome", "seconds", "reason")]
    rows += [
        (printable(o.folder.name, 48), o.result, f"{o.seconds:.1f}", printable(o.reason, 300))
        for o in outcomes
    ]
    wide = [max(len(row[i]) for row in rows) for i in range(3)]
    lines = [f"{a:<{wide[0]}}  {b:<{wide[1]}}  {c:>{wide[2]}}  {d}" for a, b, c, d in rows]
    count = {r: sum(o.result == r for o in outcomes) for r in ("made", "fresh", "failed")}
    summed = ", ".join(f"{n} {r}" for r, n in count.items())
    return "\n".join([*(line.rstrip() for line in lines), f"{len(outcomes)} episodes: {summed}."])
