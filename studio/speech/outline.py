"""The outline of a talk: chapters and talking points, with the coach's corrections applied."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from studio.config import ChapterFix, Corrections, PointVerdict, Settings
from studio.model.playhead import Playhead
from studio.model.speech import Chapter, Outline, TalkingPoint, Transcript
from studio.model.technique import Finding, Technique
from studio.speech import lexicon
from studio.speech.chapters import SHORTEST_S, find_chapters
from studio.speech.points import find_points, finished
from studio.speech.talk import read

SAME_S = 0.5
"""A correction means the chapter or point that starts within this of the time it gives."""


def outline(
    transcript: Transcript,
    *,
    playhead: Playhead | None,
    technique: Technique | None,
    settings: Settings,
    corrections: Corrections,
) -> Outline:
    """Chapters and talking points of a talk; recording time.

    Args:
        transcript: Its sentences are read, punctuated or made so.
        playhead: What stands still on the screen; None = go by the words alone.
        technique: Strokes and measures of the clip; None = go by the words alone.
        settings: The athlete's level and ranges are already in `technique`; the alias is kept
            out of titles.
        corrections: The coach's word on chapters and points stands over what is found.

    Returns:
        Chapters without gaps from 0 to the end of the talk; points in order of start.
    """
    del settings
    remarks = read(transcript.sentences)
    if not remarks:
        return Outline((), (), ("No words were heard, so there are no chapters or points.",))
    end_s = remarks[-1].sentence.end_s
    if playhead is not None and len(playhead.recording_s):
        end_s = max(end_s, float(playhead.recording_s[-1]))
    drafts = find_points(remarks, playhead, technique)
    chapters = find_chapters(remarks, drafts, round(end_s, 3))
    points = [finished(d) for d in drafts]
    points, missed = _judged(points, corrections.points)
    chapters, lost = _corrected(chapters, corrections.chapters)
    backed = [_backed(p, technique) for p in points]
    return Outline(chapters, tuple(backed), (*_doubts(backed, technique), *missed, *lost))


def _judged(
    points: Sequence[TalkingPoint], verdicts: Sequence[PointVerdict]
) -> tuple[list[TalkingPoint], list[str]]:
    """Points without those that the coach rejects, and verdicts that fit none."""
    kept = list(points)
    missed: list[str] = []
    for verdict in verdicts:
        meant = [
            p for p in points
            if p.kind == verdict.kind and abs(p.start_s - verdict.recording_s) <= SAME_S
        ]  # fmt: skip
        if not meant:
            missed.append(
                f"corrections.toml: no {_name(verdict.kind)} starts at {verdict.recording_s:.1f} s"
                " any more."
            )
        if verdict.verdict == "reject":
            kept = [p for p in kept if p not in meant]
    return kept, missed


def _corrected(
    chapters: tuple[Chapter, ...], fixes: Sequence[ChapterFix]
) -> tuple[tuple[Chapter, ...], list[str]]:
    """Chapters as the coach wants them, without gaps, and fixes that fit none."""
    made = list(chapters)
    end_s = made[-1].end_s
    lost: list[str] = []
    for fix in fixes:
        if fix.action == "add":
            inside = [c for c in made if c.start_s <= fix.recording_s]
            like = inside[-1] if inside else made[0]
            made.append(replace(like, start_s=fix.recording_s, title=fix.title or like.title))
        else:
            i = _meant(made, fix.recording_s)
            if i is None or (i == 0 and fix.action != "rename"):
                lost.append(
                    f"corrections.toml: no chapter to {fix.action} at {fix.recording_s:.1f} s."
                )
                continue
            if fix.action == "remove":
                del made[i]
            elif fix.action == "rename":
                made[i] = replace(made[i], title=fix.title)
            elif fix.to_s is not None:
                made[i] = replace(made[i], start_s=fix.to_s)
        made.sort(key=lambda c: c.start_s)
    ends = [*(c.start_s for c in made[1:]), end_s]
    made = [replace(c, end_s=e) for c, e in zip(made, ends, strict=True)]
    lost += [
        f'Chapter "{c.title}" is shorter than {SHORTEST_S} s.'
        for c in made
        if fixes and math.floor(c.end_s) - math.floor(c.start_s) < SHORTEST_S
    ]
    return tuple(made), lost


def _meant(chapters: Sequence[Chapter], recording_s: float) -> int | None:
    near = [i for i, c in enumerate(chapters) if abs(c.start_s - recording_s) <= SAME_S]
    return min(near, key=lambda i: abs(chapters[i].start_s - recording_s), default=None)


def _backed(point: TalkingPoint, technique: Technique | None) -> TalkingPoint:
    """The point with the measure that speaks to it."""
    if technique is None:
        return point
    names = lexicon.table()["measures"].get(point.topic, [])
    finding = _finding(point, names, technique)
    if finding is not None:
        agrees = finding.kind == point.kind if point.kind in ("keep", "change") else None
        return replace(point, measure=finding.measure, agrees=agrees)
    known = {m.name for m in technique.measures if m.value is not None}
    return replace(point, measure=next((n for n in names if n in known), ""))


def _finding(point: TalkingPoint, names: Sequence[str], technique: Technique) -> Finding | None:
    """What the measures say of the topic; of several the one of the point's own phase."""
    found = [f for f in (*technique.findings, *technique.further) if f.measure in names]
    found = [f for f in found if point.phase is None or f.phase in (point.phase, None)] or (
        found if len(names) == 1 else []
    )
    return min(found, key=lambda f: names.index(f.measure), default=None)


def _doubts(points: Sequence[TalkingPoint], technique: Technique | None) -> list[str]:
    """A notice for each point where voice and measure disagree."""
    if technique is None:
        return []
    measures = {m.name: m for m in technique.measures}
    made: list[str] = []
    for point in points:
        if point.agrees is not False:
            continue
        m = measures[point.measure]
        minute, second = divmod(math.floor(point.start_s), 60)
        value = "" if m.value is None else f" ({m.label} {m.value:.3g} {m.unit})"
        verb = "praise" if point.kind == "keep" else "ask to change"
        made.append(
            f"At {minute}:{second:02d} you {verb} the {point.topic}; the clip measures otherwise"
            f"{value}. Your word stands."
        )
    return made


def _name(kind: str) -> str:
    return kind.replace("_", " ")
