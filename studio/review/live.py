"""What the episode would be with the coach's edits, at once: the very functions the stages use.

The slow results (pose, playhead, words) rest on the media alone and are read once; what rests on
the coach's edits is worked out again after each of them, in well under a second.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import cattrs

from studio import store
from studio.config import Corrections, Settings, SummaryFix
from studio.errors import LaunchsideError
from studio.model.media import MediaFile
from studio.model.plan import EditPlan
from studio.model.playhead import Playhead
from studio.model.pose import PoseTrack
from studio.model.speech import Cue, Outline, Transcript
from studio.model.technique import Finding, Technique
from studio.stages import STAGES

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Results:
    """What the stages left in `work/`; None = not made yet, or there is no such source."""

    recording: MediaFile | None = None
    clip: MediaFile | None = None
    pose: PoseTrack | None = None
    technique: Technique | None = None
    playhead: Playhead | None = None
    words: Transcript | None = None
    outline: Outline | None = None
    plan: EditPlan | None = None


def read_results(work: Path) -> Results:
    """Read `work/`; a missing or damaged result counts as not made yet."""
    found: dict[str, Any] = {}
    for stage in STAGES:
        if stage.name not in Results.__dataclass_fields__:
            continue
        module, _, name = stage.kind.partition(":")
        kind = getattr(importlib.import_module(module), name)
        try:
            found[stage.name] = store.load(work / f"{stage.name}.json", kind | None)
        except (OSError, ValueError, KeyError, cattrs.BaseValidationError):
            found[stage.name] = None
    return Results(**found)


@dataclass(frozen=True, slots=True)
class Live:
    """The episode with every edit applied.

    Attributes:
        results: As read from `work/`.
        settings: `episode.toml` now.
        corrections: `corrections.toml` now.
        technique: With the edits; None = no clip, or not analysed yet.
        found: All findings, the rejected ones too.
        made: Captions before the coach's own edits of captions, ms of recording time.
        cues: Captions with them, ms of recording time.
        outline: Chapters with the edits, and all talking points, the rejected ones too.
        plan: The program with the edits; None = not to be planned yet.
        troubles: Why something could not be worked out again, each a sentence for the coach.
    """

    results: Results
    settings: Settings
    corrections: Corrections
    technique: Technique | None = None
    found: tuple[Finding, ...] = ()
    made: tuple[Cue, ...] = ()
    cues: tuple[Cue, ...] = ()
    outline: Outline | None = None
    plan: EditPlan | None = None
    troubles: tuple[str, ...] = ()


def work_out(
    results: Results, settings: Settings, corrections: Corrections, before: Live | None = None
) -> Live:
    """Apply the edits. `before` lends what did not change; only the same `results` count."""
    if before is not None and before.results is not results:
        before = None
    troubles: list[str] = []

    def attempt(work: Callable[[], T], otherwise: T) -> T:
        try:
            return work()
        except LaunchsideError as error:
            troubles.append(str(error))
            return otherwise

    live = Live(results, settings, corrections)
    technique = attempt(lambda: _technique(live, before), results.technique)
    found = attempt(lambda: _found(technique, settings), technique.findings if technique else ())
    live = replace(live, technique=technique, found=found)
    live = replace(live, made=_made(live, before))
    live = replace(live, cues=_cues(live))
    outline = attempt(lambda: _outline(live, before), results.outline)
    live = replace(live, outline=outline)
    plan = attempt(lambda: _plan(live), results.plan)
    return replace(live, plan=plan, troubles=tuple(troubles))


def _technique(live: Live, before: Live | None) -> Technique | None:
    from studio.technique.analyse import analyse

    pose, clip = live.results.pose, live.results.clip
    if pose is None or clip is None:
        return None
    if before is not None and not before.troubles and _same_technique(live, before):
        return before.technique
    return analyse(pose, clip, live.settings, live.corrections)


def _same_technique(live: Live, before: Live) -> bool:
    names = ("events", "wrong_strokes", "added_strokes", "joints", "findings")
    a, b = live.settings, before.settings
    return (a.clip, a.athlete, a.ranges) == (b.clip, b.athlete, b.ranges) and all(
        getattr(live.corrections, n) == getattr(before.corrections, n) for n in names
    )


def _found(technique: Technique | None, settings: Settings) -> tuple[Finding, ...]:
    from studio.technique.findings import find

    if technique is None:
        return ()
    shown, further = find(technique, settings, set())
    return (*shown, *further)


def _made(live: Live, before: Live | None) -> tuple[Cue, ...]:
    from studio.speech.captions import make_cues

    words = live.results.words
    if words is None:
        return ()
    if (
        before is not None
        and before.corrections.words == live.corrections.words
        and before.settings.captions == live.settings.captions
    ):
        return before.made
    return make_cues(words, live.settings, replace(live.corrections, captions=()))


def _cues(live: Live) -> tuple[Cue, ...]:
    from studio.speech.captions import with_fixes

    return with_fixes(live.made, live.corrections.captions, live.settings.captions.max_chars)


def _outline(live: Live, before: Live | None) -> Outline | None:
    from studio.speech.glossary import apply_fixes
    from studio.speech.outline import outline

    words = live.results.words
    if words is None:
        return None
    if before is not None and not before.troubles and _same_outline(live, before):
        return before.outline
    return outline(
        apply_fixes(words, live.corrections.words),
        playhead=live.results.playhead,
        technique=live.technique,
        settings=live.settings,
        corrections=replace(live.corrections, points=()),
    )


def _same_outline(live: Live, before: Live) -> bool:
    a, b = live.settings, before.settings
    return (
        live.technique is before.technique
        and (a.episode, a.athlete) == (b.episode, b.athlete)
        and live.corrections.words == before.corrections.words
        and live.corrections.chapters == before.corrections.chapters
    )


def _plan(live: Live) -> EditPlan | None:
    from studio.edit.planner import plan

    results = live.results
    if results.recording is None and results.clip is None:
        return None
    return plan(
        recording=results.recording,
        clip=results.clip,
        playhead=results.playhead,
        technique=live.technique,
        outline=accepted(live),
        cues=live.cues,
        settings=live.settings,
        corrections=live.corrections,
    )


def accepted(live: Live) -> Outline | None:
    """The outline without the talking points that the coach rejected."""
    if live.outline is None:
        return None
    points = tuple(p for p in live.outline.points if point_verdict(live, p) != "reject")
    return replace(live.outline, points=points)


def point_verdict(live: Live, point: Any) -> str:
    """The coach's word on a talking point; empty = none."""
    for verdict in live.corrections.points:
        if verdict.kind == point.kind and abs(verdict.recording_s - point.start_s) < 0.01:
            return verdict.verdict
    return ""


def finding_verdict(live: Live, code: str) -> str:
    """The coach's word on a finding; empty = none."""
    return next((v.verdict for v in live.corrections.findings if v.code == code), "")


def summary(live: Live, out: Path) -> SummaryFix:
    """The three texts as they stand: the coach's own, else the ones made last."""
    made = {"description": "description.txt", "markdown": "summary.md", "post": "post.txt"}
    texts = {}
    for part, name in made.items():
        own = getattr(live.corrections.summary, part)
        path = out / name
        texts[part] = own or (path.read_text("utf-8") if path.is_file() else "")
    return SummaryFix(**texts)
