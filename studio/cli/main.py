"""The `launchside` command: finds the command's module only when it is called for."""

from __future__ import annotations

import importlib
import os
import sys

import click

from studio import __version__
from studio.errors import LaunchsideError
from studio.interrupt import LEAVE, leave_promptly

COMMANDS = {
    "new": "Make an episode folder.",
    "make": "Make the episode: run whatever is stale.",
    "review": "Open the coach's desk: check, correct and finish an episode.",
    "batch": "Make many episodes, on this computer or on a Dask cluster.",
    "inbox": "Take in clips as they arrive, answer each, make episodes of the fit.",
    "season": "How each athlete develops over the episodes, on one page.",
    "check": "Is this clip good enough to review? With a note to send back.",
    "strokes": "Measure the strokes of a clip.",
    "match": "Find which clip moment is on screen, all through a recording.",
    "listen": "Write down what is said in a recording.",
    "outline": "Chapters, talking points and summary from a caption file alone.",
    "models": "Fetch or list the models.",
    "doctor": "Versions, models, fonts and free disk of this computer.",
}
"""Name -> one line of help. The command lives in `studio.cli.<name>` as `command`."""


class Lazy(click.Group):
    """A group whose commands are imported one at a time, so that `--help` stays quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All names, in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command itself, or None for an unknown name."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"studio.cli.{cmd_name}")
        found: click.Command = module.command
        return found

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The table of commands, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="launchside")
@click.pass_context
def cli(context: click.Context) -> None:
    """From a talk-over recording and an athlete's clip to a finished episode, offline."""
    if context.invoked_subcommand != "review":  # which has a server to close
        leave_promptly()


def main() -> None:
    """Run the command line; one line on stderr and the right exit code for every expected error."""
    if os.environ.get("LAUNCHSIDE_DEBUG") == "1":
        cli()
        return
    try:
        cli(standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo(LEAVE, err=True)
        sys.exit(130)
    except LaunchsideError as error:
        click.echo(f"launchside: {error}", err=True)
        sys.exit(error.exit_code)
    except BrokenPipeError:
        sys.exit(0)
    except Exception as error:  # noqa: BLE001 - the last resort: one line, and how to see more
        what = f"{type(error).__name__}: {error}".splitlines()[0]
        click.echo(
            f"launchside: this is a bug ({what}). Run again with LAUNCHSIDE_DEBUG=1 to see where.",
            err=True,
        )
        sys.exit(1)


if __name__ == "__main__":
    main()
