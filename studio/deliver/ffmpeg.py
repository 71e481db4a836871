"""The ffmpeg program that comes with a package: for measuring loudness and the final file."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence

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


def run(arguments: Sequence[str]) -> str:
    """Run it; returns what it reported.

    Raises:
        ToolError: It is missing.
        OutputError: It failed.
    """
    command = [program(), "-hide_banner", "-nostdin", "-y", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
    if done.returncode:
        lines = [line for line in done.stderr.splitlines() if line.strip()]
        raise OutputError(f"ffmpeg could not finish ({lines[-1] if lines else 'no reason given'}).")
    return done.stderr
