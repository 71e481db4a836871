"""The upright short: the strongest talking point in 20 to 45 seconds, captions burned in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np

from overlays import Canvas, Caption, Mark, TitleCard, blend_bgr, blend_yuv420
from overlays.palette import INK
from studio.config import Settings
from studio.deliver.encode import Ahead, Encoder
from studio.deliver.ffmpeg import run
from studio.deliver.onscreen import on_screen
from studio.deliver.planes import Pool, coding_of, from_bgr, planes_of
from studio.deliver.source import Reader
from studio.edit.marks import point_label
from studio.edit.shots import Clock
from studio.ingest.probe import probe
from studio.model.arrays import Array
from studio.model.plan import EditPlan
from studio.model.playhead import Playhead
from studio.model.speech import Cue, Outline, TalkingPoint
from studio.progress import Progress
from studio.store import folder_aside, write_aside

SIZE_PX = (1080, 1920)
LEAST_S, MOST_S = 20.0, 45.0
GAP_S = 4.0
"""Talking points on one topic with less than this between them belong together."""
TITLE_SHARE, PICTURE_TOP = 0.33, 0.35
"""Of the height: the title's part, and where the picture begins."""
CAPTION_LIFT = 0.11
"""Hosts lay their own buttons over the lowest fifth of an upright video."""
LINE_CHARS = 25
"""37 characters in 16:9 are about 25 in 9:16 (BBC Subtitle Guidelines, section 3.1)."""
TAIL_S = 0.4


@dataclass(frozen=True, slots=True)
class Cut:
    """What the short shows: program time, and its label."""

    start_s: float
    end_s: float
    label: str


def choose(plan: EditPlan, outline: Outline | None) -> Cut | None:
    """The strongest talking point with what belongs to it; program time; None = nothing fits.

    Things to change teach more than praise; a measure behind a point, a coaching cue or a drill
    after it, and a phase make it stronger.
    """
    if outline is None or not outline.points or float(plan.duration_s) < LEAST_S:
        return None
    clock = Clock(plan.shots)
    ordered = sorted(outline.points, key=lambda p: p.start_s)
    best = max(range(len(ordered)), key=lambda i: (_strength(_group(ordered, i)), -i))
    group = _group(ordered, best)
    start = float(clock.after(Fraction(group[0].start_s)))
    ends = [float(clock.before(Fraction(p.end_s))) for p in group]
    end = max([e for e in ends if e - start <= MOST_S] or [start + MOST_S])
    start, end = _fitted(start, end, plan)
    return Cut(start, end, point_label(group[0]))


def make_short(
    plan: EditPlan,
    episode: Path,
    *,
    outline: Outline | None,
    playhead: Playhead | None,
    settings: Settings,
    out: Path,
    progress: Progress,
) -> Cut | None:
    """Make the short from the finished episode: its picture of the clip, its sound, its captions.

    Args:
        plan: The episode's plan.
        episode: `episode.mp4`.
        outline: For the talking points.
        playhead: For where on the screen the clip is; None = the whole picture is taken.
        settings: `episode.toml`.
        out: The short; written aside and renamed.
        progress: Told how far it is.

    Returns:
        What was cut, or None where there is no talking point to make one of.

    Raises:
        MediaError: The episode cannot be read.
        OutputError: Cannot write.
    """
    cut = choose(plan, outline)
    if cut is None:
        return None
    media = probe(episode)
    with folder_aside(out.parent) as folder:
        picture = folder / "picture.mp4"
        reader = Reader(episode, media, (plan.width_px, plan.height_px))
        _picture(plan, cut, reader, playhead, settings, picture, progress)
        with write_aside(out) as aside:
            _finish(episode, cut, picture, aside, sound=media.audio is not None)
    return cut


def _picture(
    plan: EditPlan,
    cut: Cut,
    reader: Reader,
    playhead: Playhead | None,
    settings: Settings,
    out: Path,
    progress: Progress,
) -> None:
    rate = plan.frame_rate
    first, last = (round(Fraction(s) * rate) for s in (cut.start_s, cut.end_s))
    box = _crop(plan, playhead, first, last)
    coding = coding_of(reader.at(Fraction(first) / rate))
    ground = from_bgr(_ground(cut, settings), coding)
    cues = [(c.start_ms / 1000, c.end_ms / 1000, _marks(c)) for c in plan.cues]
    pool = Pool(*SIZE_PX)

    def frames() -> Iterator[tuple[int, tuple[Array, Array, Array]]]:
        for number in range(first, last):
            frame = reader.at((number + Fraction(2, 5)) / rate)
            yield number, _scaled(planes_of(frame), box)

    progress.start("The short", last - first, "frame")
    ahead = Ahead(frames())
    try:
        with Encoder(out, SIZE_PX, rate, settings.picture, coding, pool.give_back) as encoder:
            for number, planes in ahead:
                frame = pool.copy(ground)
                _set(planes_of(frame), planes)
                now_s = number / float(rate)
                for start, end, marks in cues:
                    if start <= now_s < end:
                        blend_yuv420(planes_of(frame), marks, matrix=coding.matrix)
                encoder.put(number - first, frame, own=True)
                progress.advance()
    finally:
        ahead.close()
        reader.close()
        progress.finish()


def _finish(episode: Path, cut: Cut, picture: Path, out: Path, *, sound: bool) -> None:
    length = cut.end_s - cut.start_s
    arguments = ["-i", str(picture)]
    codecs = ["-map", "0:v:0", "-c:v", "copy"]
    if sound:
        arguments += ["-ss", f"{cut.start_s:.6f}", "-t", f"{length:.6f}", "-i", str(episode)]
        fades = f"afade=t=in:d=0.05,afade=t=out:st={max(0.0, length - 0.2):.3f}:d=0.2"
        codecs += ["-map", "1:a:0", "-af", fades, "-c:a", "aac", "-b:a", "160k"]
    run([*arguments, *codecs, "-map_chapters", "-1", "-movflags", "+faststart", "-f", "mp4",
         str(out)])  # fmt: skip


def _group(ordered: list[TalkingPoint], index: int) -> list[TalkingPoint]:
    """A point and those right after it on the same topic."""
    group = [ordered[index]]
    for point in ordered[index + 1 :]:
        close = point.start_s - group[-1].end_s <= GAP_S
        if not close or point.topic != group[0].topic:
            break
        if point.end_s - group[0].start_s > MOST_S:
            break
        group.append(point)
    return group


def _strength(group: list[TalkingPoint]) -> float:
    first = group[0]
    score = {"change": 3.0, "keep": 2.0}.get(first.kind, 0.0)
    score += len({p.kind for p in group}) - 1
    score += 0.5 if first.agrees else 0.0
    score += 0.5 if first.phase else 0.0
    length = group[-1].end_s - first.start_s
    return score + min(1.0, length / LEAST_S)


def _fitted(start: float, end: float, plan: EditPlan) -> tuple[float, float]:
    """20 to 45 s, beginning and ending with captions: first what follows is added, then before."""
    total = float(plan.duration_s)
    edges = sorted({c.end_ms / 1000 + TAIL_S for c in plan.cues})
    for edge in edges:
        if end - start < LEAST_S and end < edge <= start + MOST_S:
            end = edge
    for edge in sorted((c.start_ms / 1000 for c in plan.cues), reverse=True):
        if end - start < LEAST_S and edge < start and end - edge <= MOST_S:
            start = edge
    end = min(end, start + MOST_S, total)
    if end - start < LEAST_S:  # no captions to go by
        end = min(total, start + LEAST_S)
        start = max(0.0, end - LEAST_S)
    return start, end


def _crop(
    plan: EditPlan, playhead: Playhead | None, first: int, last: int
) -> tuple[int, int, int, int]:
    """The even box of the program's picture that is shown: the clip, where it is mostly there."""
    whole = (0, 0, plan.width_px // 2 * 2, plan.height_px // 2 * 2)
    if playhead is None:
        return whole
    table = on_screen(plan, playhead, None, None)
    placed = table.affine[first:last]
    if (placed >= 0).mean() < 0.5:
        return whole
    seen = np.median(table.seen_px[placed[placed >= 0]], axis=0)
    x0, y0 = (int(np.ceil(max(0.0, v) / 2) * 2) for v in seen[:2])
    x1 = int(min(seen[2], plan.width_px) // 2 * 2)
    y1 = int(min(seen[3], plan.height_px) // 2 * 2)
    return (x0, y0, x1, y1)


def _scaled(
    planes: tuple[Array, Array, Array], box: tuple[int, int, int, int]
) -> tuple[Array, Array, Array]:
    """A part of the picture at the short's width."""
    x0, y0, x1, y1 = box
    width = SIZE_PX[0]
    height = min(round(width * (y1 - y0) / (x1 - x0) / 2) * 2, round(SIZE_PX[1] * 0.45) // 2 * 2)
    way = cv2.INTER_AREA if x1 - x0 > width else cv2.INTER_CUBIC
    y, u, v = planes
    half = (slice(y0 // 2, y1 // 2), slice(x0 // 2, x1 // 2))
    return (
        cv2.resize(y[y0:y1, x0:x1], (width, height), interpolation=way),
        cv2.resize(u[half], (width // 2, height // 2), interpolation=way),
        cv2.resize(v[half], (width // 2, height // 2), interpolation=way),
    )


def _set(ground: tuple[Array, Array, Array], planes: tuple[Array, Array, Array]) -> None:
    top = round(SIZE_PX[1] * PICTURE_TOP / 2) * 2
    for target, part, n in zip(ground, planes, (1, 2, 2), strict=True):
        target[top // n : top // n + part.shape[0]] = part


def _ground(cut: Cut, settings: Settings) -> Array:
    """(h, w, 3) BGR: what stays the same behind picture and captions."""
    width, height = SIZE_PX
    image = np.empty((height, width, 3), np.uint8)
    image[:] = INK[::-1]
    title = Canvas(width, round(height * TITLE_SHARE))
    TitleCard(title=cut.label, series=settings.episode.series).draw(title)
    top = round(height * (PICTURE_TOP - TITLE_SHARE) * 0.9)
    blend_bgr(image[top : top + title.height], title.marks)
    return image


def _marks(cue: Cue) -> list[Mark]:
    canvas = Canvas(*SIZE_PX)
    Caption(lines=_narrow(" ".join(cue.lines)), lift=CAPTION_LIFT).draw(canvas)
    return canvas.marks


def _narrow(text: str) -> tuple[str, ...]:
    """A caption's words on as few lines as fit an upright picture, of nearly equal length."""
    words = text.split()
    count = max(1, -(-len(text) // LINE_CHARS))
    limit = max(len(text) / count, max((len(w) for w in words), default=0))
    lines: list[str] = []
    for word in words:
        joined = f"{lines[-1]} {word}" if lines else word
        # a word goes on the line while that brings the line nearer to its share
        if lines and abs(len(joined) - limit) <= abs(len(lines[-1]) - limit):
            lines[-1] = joined
        else:
            lines.append(word)
    return tuple(lines)


__all__ = ["Cut", "choose", "make_short"]
