"""The ffmpeg program that comes with a package: for measuring loudness and the final file."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path

from studio.errors import OutputError, ToolError


def program() -> str:
    """Path of the program. Raises: ToolError where the package does not carry one."""
    import imageio_ffmpeg

    try:
        return str(imageio_ffmpeg.get_ffmpeg_exe())
    except RuntimeError as error:
        raise ToolError(
            "ffmpeg is missing: the package imageio-ffmpeg carries none for this computer.",
            "Install ffmpeg and name it in the variable IMAGEIO_FFMPEG_EXE.",
        ) from error


def run(arguments: Sequence[str], out: Path | None = None) -> str:
    """Run it; returns what it reported.

    Args:
        arguments: Without the program's name.
        out: The file it is to write, named in the error when it cannot.

    Raises:
        ToolError: It is missing.
        OutputError: It failed.
    """
    command = [program(), "-hide_banner", "-nostdin", "-y", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
    if done.returncode:
        lines = [line for line in done.stderr.splitlines() if line.strip()]
        reason = lines[-1] if lines else "no reason given"
        if out is not None:
            raise OutputError(f"{out}: cannot be written ({reason}).", "Free some space.")
        raise OutputError(f"ffmpeg could not finish ({reason}).")
    return done.stderr
