"""Options that several commands share, and the first steps with a clip outside any episode."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from studio.config import WEIGHTS

if TYPE_CHECKING:
    from studio.config import Settings
    from studio.model.media import MediaFile
    from studio.model.pose import PoseTrack
    from studio.progress import Progress

FILE = click.Path(path_type=Path)

captured_fps = click.option(
    "--captured-fps",
    type=click.FloatRange(1, 2000),
    help="Frames a second at capture, for slow motion.",
)
weights = click.option(
    "--weights",
    type=click.Choice(WEIGHTS),
    default="auto",
    show_default=True,
    help="Pose weights; auto takes the heavy ones once they are fetched.",
)
quiet = click.option("-q", "--quiet", is_flag=True, help="Say nothing but errors.")


def json_file(
    text: str = "Write the result here.", *, required: bool = False
) -> Callable[[Any], Any]:
    """The option `--json FILE`, given to the command as `file`."""
    return click.option("--json", "file", required=required, type=FILE, help=text)


def progress_of(quiet: bool) -> Progress:
    """A bar on the terminal, or nothing."""
    from studio.progress import Quiet, Terminal

    return Quiet() if quiet else Terminal()


def follow_athlete(
    clip: Path, captured_fps: float | None, weights: str
) -> tuple[MediaFile, PoseTrack, Settings]:
    """What a clip is, its pose track, and the settings to analyse it with.

    Raises:
        MediaError: There is no picture in it.
    """
    from studio.config import ClipSettings, Settings
    from studio.errors import MediaError
    from studio.ingest.probe import probe
    from studio.technique.pose import track_pose

    media = probe(clip)
    if media.video is None:
        raise MediaError(f"{clip}: there is no picture in it.", "Give the athlete's video.")
    pose = track_pose(clip, media.video, weights=weights, progress=progress_of(quiet=False))
    return media, pose, Settings(clip=ClipSettings(captured_fps=captured_fps or 0.0))
