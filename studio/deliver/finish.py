"""Finished picture and sound to `episode.mp4`, with the plan's captions and chapters."""

from __future__ import annotations

from pathlib import Path

from studio.config import About
from studio.deliver.mux import mux
from studio.model.plan import EditPlan
from studio.store import folder_aside, write_aside


def finish(plan: EditPlan, *, picture: Path, sound: Path | None, about: About, out: Path) -> None:
    """Write the episode; nothing is encoded again, so that new words cost next to nothing.

    Args:
        plan: For captions, chapters and length.
        picture: What `render` wrote.
        sound: What `write_sound` wrote; None = none.
        about: Title and language.
        out: The MP4; written aside and renamed.

    Raises:
        OutputError: Cannot write.
        ToolError: ffmpeg is missing.
    """
    with folder_aside(out.parent) as folder, write_aside(out) as aside:
        mux(
            aside,
            picture=picture,
            sound=sound,
            cues=plan.cues,
            chapters=plan.chapters,
            duration_s=plan.duration_s,
            language=about.language,
            title=about.title,
            folder=folder,
        )
