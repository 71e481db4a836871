"""Writes docs/commands.md from the commands themselves; `--check` says whether it is fresh."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import click

PAGE = Path(__file__).resolve().parent.parent / "docs" / "commands.md"
HEAD = """\
# Commands

Made from the program by `python -m scripts.commands`; a test says when it is stale. Every command
answers `--help` and ends with an exit code of docs/data-model.md.
"""


def page() -> str:
    """The whole page."""
    from studio.cli.main import COMMANDS, cli

    context = click.Context(cli, info_name="launchside")
    parts = [HEAD, "| command | what it does |", "|---|---|"]
    parts += [f"| [`{name}`](#launchside-{name}) | {text} |" for name, text in COMMANDS.items()]
    for name in COMMANDS:
        command = cli.get_command(context, name)
        assert command is not None
        parts += ["", *_section(command, click.Context(command, context, info_name=name))]
    return "\n".join(parts) + "\n"


def _section(command: click.Command, context: click.Context) -> Iterator[str]:
    arguments = [p for p in command.params if isinstance(p, click.Argument)]
    places = " ".join(p.make_metavar(context) for p in arguments)
    yield f"## launchside {context.info_name}"
    yield ""
    yield f"    launchside {context.info_name} {places}".rstrip()
    yield ""
    yield " ".join((command.help or "").split())
    options = [p for p in command.params if isinstance(p, click.Option)]
    if options:
        yield from ["", "| option | meaning |", "|---|---|"]
    for option in options:
        record = option.get_help_record(context)
        assert record is not None
        names, text = (" ".join(cell.split()).replace("|", "\\|") for cell in record)
        yield f"| `{names}` | {text} |"


def main(arguments: list[str]) -> int:
    """Write the page, or with `--check` compare it: 1 = stale."""
    made = page()
    if "--check" not in arguments:
        PAGE.write_text(made, encoding="utf-8")
        return 0
    if PAGE.is_file() and PAGE.read_text(encoding="utf-8") == made:
        return 0
    sys.stderr.write(f"{PAGE.name} is stale; run: python -m scripts.commands\n")
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
