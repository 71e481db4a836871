"""`launchside listen MEDIA`."""

from __future__ import annotations

from pathlib import Path

import click

from studio.cli.options import FILE, json_file, progress_of, quiet


@click.command(help="Write down what is said in MEDIA (a recording or a sound file).")
@click.argument("media", type=FILE)
@json_file("Where to write words and sentences with their times.", required=True)
@click.option(
    "--model",
    default="base",
    show_default=True,
    help='"base", "tiny.en", or the folder of a faster-whisper model.',
)
@click.option("--language", default="en", show_default=True, help="Language spoken.")
@click.option("--no-repairs", is_flag=True, help="Leave misheard rowing terms as heard.")
@quiet
def command(
    media: Path, file: Path, model: str, language: str, no_repairs: bool, quiet: bool
) -> None:
    """Transcribe one file and write the contract's JSON."""
    from studio.config import About, Settings, SpeechSettings
    from studio.ingest.probe import probe
    from studio.speech.contract import to_contract
    from studio.speech.transcribe import transcribe
    from studio.store import write_json

    settings = Settings(
        episode=About(language=language), speech=SpeechSettings(model, repairs=not no_repairs)
    )
    found = probe(media, need_video=False)
    transcript = transcribe(media, found, settings, progress=progress_of(quiet))
    write_json(file, to_contract(transcript))
    if quiet:
        return
    click.echo(
        f"{len(transcript.words)} words in {len(transcript.sentences)} sentences, "
        f"{len(transcript.repairs)} repaired, {len(transcript.doubtful)} doubtful: {file}"
    )
