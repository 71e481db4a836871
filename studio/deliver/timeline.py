"""`timeline.otio`: the program as an open time line, to be finished in any editor."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

from studio.edit.grid import picture_end
from studio.edit.shots import Clock
from studio.model.media import MediaFile
from studio.model.plan import EditPlan, Shot
from studio.model.speech import Outline
from studio.store import write_aside


def write_timeline(
    path: Path,
    plan: EditPlan,
    *,
    recording: MediaFile | None,
    clip: MediaFile | None,
    outline: Outline | None,
    title: str,
) -> Path:
    """Write the plan as an OpenTimelineIO file: one picture track, one sound track, markers.

    Media are named as the coach named them. An inserted hold is a freeze-frame of its source;
    holds, chapters and talking points are markers on the picture track.

    Raises:
        OutputError: Cannot write.
    """
    import opentimelineio as otio

    made = otio.schema.Timeline(name=title or "episode")
    made.global_start_time = _time(plan, Fraction(0))
    picture = otio.schema.Track(name="picture", kind=otio.schema.TrackKind.Video)
    sound = otio.schema.Track(name="sound", kind=otio.schema.TrackKind.Audio)
    for shot in plan.shots:
        media = clip if shot.kind == "clip" or recording is None else recording
        picture.append(_item(plan, shot, media))
        sound.append(_sound(plan, shot, media))
    picture.markers.extend(_markers(plan, outline))
    made.tracks.extend([picture, sound])
    with write_aside(path) as aside:
        text = otio.adapters.write_to_string(made, adapter_name="otio_json")
        aside.write_text(text + "\n", encoding="utf-8")
    return path


def _item(plan: EditPlan, shot: Shot, media: MediaFile | None) -> Any:
    import opentimelineio as otio

    if shot.kind == "card" or media is None:
        gap = otio.schema.Gap(source_range=_range(plan, Fraction(0), shot.duration_s))
        gap.name = f"{shot.card} card" if shot.card else "nothing"
        return gap
    item = _clip(plan, shot, media)
    if shot.speed == 0:
        item.effects.append(otio.schema.FreezeFrame())
    elif shot.speed != 1:
        item.effects.append(otio.schema.LinearTimeWarp(time_scalar=float(shot.speed)))
    return item


def _sound(plan: EditPlan, shot: Shot, media: MediaFile | None) -> Any:
    import opentimelineio as otio

    if shot.sound == "source" and media is not None:
        return _clip(plan, shot, media)
    return otio.schema.Gap(source_range=_range(plan, Fraction(0), shot.duration_s))


def _clip(plan: EditPlan, shot: Shot, media: MediaFile) -> Any:
    import opentimelineio as otio

    reference = otio.schema.ExternalReference(
        target_url=Path(media.path).as_posix(),
        available_range=_range(plan, Fraction(0), picture_end(media)),
    )
    return otio.schema.Clip(
        name=shot.kind,
        media_reference=reference,
        source_range=_range(plan, shot.source_start_s, shot.duration_s),
    )


def _markers(plan: EditPlan, outline: Outline | None) -> list[Any]:
    import opentimelineio as otio

    colours = otio.schema.MarkerColor
    found = []
    for hold in plan.holds:
        span = _range(plan, hold.program_start_s, hold.duration_s)
        kind = "inserted hold" if hold.inserted else "hold"
        found.append(_marker(f"{kind}: {hold.phase}", span, colours.CYAN, {"why": hold.why}))
    for chapter in plan.chapters:
        start, end = Fraction(chapter.start_s), Fraction(chapter.end_s)
        found.append(_marker(chapter.title, _range(plan, start, end - start), colours.WHITE, {}))
    if outline is not None and any(s.kind == "recording" for s in plan.shots):
        clock = Clock(plan.shots)
        for point in outline.points:
            start = clock.after(Fraction(point.start_s))
            span = _range(
                plan, start, max(Fraction(0), clock.before(Fraction(point.end_s)) - start)
            )
            colour = colours.GREEN if point.kind == "keep" else colours.ORANGE
            found.append(
                _marker(f"{point.kind}: {point.topic}", span, colour, {"text": point.text})
            )
    return found


def _marker(name: str, span: Any, colour: str, about: dict[str, str]) -> Any:
    import opentimelineio as otio

    return otio.schema.Marker(name=name, marked_range=span, color=colour, metadata={"about": about})


def _range(plan: EditPlan, start_s: Fraction, duration_s: Fraction) -> Any:
    import opentimelineio as otio

    return otio.opentime.TimeRange(_time(plan, start_s), _time(plan, duration_s))


def _time(plan: EditPlan, seconds: Fraction) -> Any:
    """Whole frames at the program's rate."""
    import opentimelineio as otio

    return otio.opentime.RationalTime(round(seconds * plan.frame_rate), float(plan.frame_rate))
