"""Pictures to post: the best catch and finish with their angles, a comparison, a thumbnail."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from overlays import Callout, Canvas, blend_bgr
from overlays.canvas import SAFE_SHARE
from studio.config import Settings
from studio.deliver.beside import compare, side_of
from studio.deliver.clip_frame import StillDrawer, best_stroke, frames_at
from studio.errors import OutputError
from studio.model.arrays import Array
from studio.model.faces import OtherFaces
from studio.model.media import MediaFile
from studio.model.technique import Stroke, Technique
from studio.store import write_aside

THUMBNAIL_PX = (1280, 720)
"""What hosts ask for."""
QUALITY = 92
PAIR_PX = (1920, 1080)
HEADLINE_SCALE = 2
"""A thumbnail is seen the size of a stamp: its words are twice the size of a plate's."""


def write_stills(
    clip: tuple[Path, MediaFile],
    technique: Technique,
    settings: Settings,
    folder: Path,
    *,
    others: OtherFaces | None,
) -> list[Path]:
    """Write `catch.png`, `finish.png`, `strokes.png` (two catches) and `thumbnail.jpg`.

    Faces are blurred as in the program. What the clip does not show is not written.

    Args:
        clip: The athlete's clip.
        technique: What it shows.
        settings: `episode.toml`.
        folder: Where the pictures go.
        others: Bystanders' faces to blur.

    Raises:
        MediaError: The clip cannot be read.
        OutputError: Cannot write.
    """
    chosen = best_stroke(technique)
    other = _other(technique, chosen)
    times = {
        "catch": chosen.catch_s if chosen else None,
        "finish": chosen.finish_s if chosen else None,
        "other": other.catch_s if other else None,
    }
    wanted = {name: time for name, time in times.items() if time is not None}
    frames = frames_at(clip, sorted(wanted.values()))
    drawer = StillDrawer(clip, technique, settings.athlete.consent != "yes", others)
    drawn = {
        name: drawer.draw(frames[time], time, "finish" if name == "finish" else "catch")
        for name, time in wanted.items()
    }
    written = [
        _write(folder / f"{name}.png", drawn[name]) for name in ("catch", "finish") if name in drawn
    ]
    if chosen and other and "catch" in drawn and "other" in drawn:
        pair = sorted(((chosen, drawn["catch"]), (other, drawn["other"])), key=lambda p: p[0].index)
        written.append(_write(folder / "strokes.png", _pair(pair, technique)))
    if "catch" in drawn:
        written.append(_write(folder / "thumbnail.jpg", _thumbnail(drawn["catch"], settings)))
    return written


def _pair(pair: list[tuple[Stroke, Array]], technique: Technique) -> Array:
    left, right = (
        side_of(image, technique, "catch", stroke.catch_s or 0.0) for stroke, image in pair
    )
    return compare(left, right, "catch", PAIR_PX)


def _other(technique: Technique, chosen: Stroke | None) -> Stroke | None:
    """The stroke farthest from the chosen one in time, to compare with."""
    if chosen is None:
        return None
    rest = [s for s in technique.strokes if s.catch_s is not None and s is not chosen]
    return max(rest, key=lambda s: abs(s.index - chosen.index), default=None)


def _thumbnail(image: Array, settings: Settings) -> Array:
    """The catch filling the frame, the episode's title large along the bottom."""
    width, height = THUMBNAIL_PX
    scale = max(width / image.shape[1], height / image.shape[0])
    size = (round(image.shape[1] * scale), round(image.shape[0] * scale))
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    large = cv2.resize(image, size, interpolation=way)
    x, y = (size[0] - width) // 2, (size[1] - height) // 2
    picture = np.ascontiguousarray(large[y : y + height, x : x + width])
    title = settings.episode.title or settings.episode.series
    if title:
        # plates take their letters from the canvas's height: a taller one gives a headline
        tall = Canvas(width, HEADLINE_SCALE * height)
        headline = Callout(text=title, corner=(0.0, 0.0))
        left, gap = tall.safe.left, (1 - SAFE_SHARE) / 2 * height
        top = height - gap - headline.size(tall)[1]
        replace(headline, corner=(left, top)).draw(tall)
        blend_bgr(picture, tall.marks)
    return picture


def _write(path: Path, image: Array) -> Path:
    with write_aside(path) as aside:
        options = [cv2.IMWRITE_JPEG_QUALITY, QUALITY] if path.suffix == ".jpg" else []
        if not cv2.imwrite(str(aside), image, options):
            raise OutputError(f"{path}: cannot be written.")
    return path
