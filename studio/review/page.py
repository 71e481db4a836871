"""What the page needs, as plain JSON: small, on named clocks, one dictionary a subject."""

from __future__ import annotations

import base64
import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from studio.config import Settings
from studio.model.arrays import Array
from studio.model.plan import EditPlan
from studio.model.technique import Technique
from studio.review.attention import attention, lost_captions
from studio.review.live import Live, finding_verdict, point_verdict, summary
from studio.speech.caption_fixes import groups
from studio.technique.findings import ranges

Plain = dict[str, Any]
BANDS = {
    "lean": ("trunk", "catch", 1), "layback": ("trunk", "finish", -1), "shin": ("shin", "catch", 1),
    "body_set": ("trunk", "knees_bend", 1),
}  # fmt: skip
"""Measure -> angle curve, moment, and the sign from the measure to the curve."""
DELIVERABLES = {
    "episode.mp4": "the episode",
    "captions.srt": "captions, SubRip",
    "captions.vtt": "captions, WebVTT",
    "chapters.txt": "chapters to paste",
    "chapters.vtt": "chapters, WebVTT",
    "chapters.json": "chapters, podcast",
    "description.txt": "description",
    "summary.md": "summary",
    "post.txt": "post",
    "measures.csv": "measures, table",
    "report.html": "report, one page",
    "timeline.otio": "time line for an editor",
}
PASTED = ("captions.srt", "chapters.txt", "description.txt", "summary.md", "post.txt")
"""What is pasted into a post, and so gets a copy button."""


def packed(array: Array, kind: str) -> str:
    """An array as base64 of little-endian numbers of `kind` ("f4" or "i4"), row by row."""
    return base64.b64encode(np.ascontiguousarray(array, f"<{kind}").tobytes()).decode("ascii")


def state(live: Live, folder: Path) -> Plain:
    """All that an edit may change, but for the body's curves."""
    corrections = live.corrections
    return {
        "settings": _settings(live.settings),
        "technique": _technique(live),
        "wrong_strokes": [w.catch_s for w in corrections.wrong_strokes],
        "moved_joints": [asdict(j) for j in corrections.joints],
        "word_fixes": [asdict(w) for w in corrections.words],
        "captions": _captions(live),
        "lost_captions": _lost_captions(live),
        "cues": [[c.start_ms, c.end_ms, "\n".join(c.lines)] for c in live.cues],
        "chapters": [asdict(c) for c in live.outline.chapters] if live.outline else [],
        "removed_chapters": [c.recording_s for c in corrections.chapters if c.action == "remove"],
        "points": _points(live),
        "program": _program(live.plan),
        "dropped_holds": [h.recording_s for h in corrections.holds if h.action == "drop"],
        "summary": asdict(summary(live, folder / "out")),
        "own_texts": {k: bool(v) for k, v in asdict(corrections.summary).items()},
        "outputs": outputs(folder / "out"),
        "attention": attention(live),
        "troubles": list(live.troubles),
    }


def _settings(settings: Settings) -> Plain:
    return {
        "athlete": asdict(settings.athlete),
        "captured_fps": settings.clip.captured_fps,
        "title": settings.episode.title,
        "series": settings.episode.series,
        "coach": settings.episode.coach,
        "club": settings.episode.club,
        "hold_seconds": settings.holds.seconds,
        "max_chars": settings.captions.max_chars,
    }


def _technique(live: Live) -> Plain | None:
    technique = live.technique
    if technique is None:
        return None
    shown = {f.code for f in technique.findings}
    return {
        "time_factor": technique.time_factor,
        "strokes": [asdict(s) for s in technique.strokes],
        "measures": [asdict(m) for m in technique.measures],
        "findings": [
            asdict(f) | {"verdict": finding_verdict(live, f.code), "shown": f.code in shown}
            for f in live.found
        ],
        "notices": list(technique.notices),
        "bands": bands(live.settings),
    }


def bands(settings: Settings) -> list[Plain]:
    """Reference ranges as they lie on the angle curves, degrees; an open end is None."""
    found = []
    for name, (angle, moment, sign) in BANDS.items():
        row = ranges().get(name)
        if row is None or row.get("usual"):
            continue
        level = row.get("level", {}).get(settings.athlete.level, {})
        merged = {**row, **level, **settings.ranges.get(name, {})}
        ends = [merged.get("low"), merged.get("high")]
        if sign < 0:
            ends = [None if e is None else -e for e in reversed(ends)]
        found.append({"measure": name, "angle": angle, "moment": moment, "low": ends[0],
                      "high": ends[1], "source": row["source"]})  # fmt: skip
    return found


def _captions(live: Live) -> list[Plain]:
    """One row a caption as made, or several merged, with what the coach changed; recording time.

    A new line in `text` begins a caption of its own; `keys_s` are the starts of those as made.
    """
    return [
        {
            "key_s": group.cues[0].start_ms / 1000,
            "keys_s": [cue.start_ms / 1000 for cue in group.cues],
            "start_s": group.start_ms / 1000,
            "end_s": group.end_ms / 1000,
            "text": "\n".join(group.parts),
            "made": group.made,
            "rewritten": len(group.cues) > 1 and any(f and f.text == "" for f in group.fixes[1:]),
            "changed": any(group.fixes),
        }
        for group in groups(live.made, live.corrections.captions)
    ]


def _lost_captions(live: Live) -> list[Plain]:
    return [{"recording_s": f.recording_s, "text": f.text or ""} for f in lost_captions(live)]


def _points(live: Live) -> list[Plain]:
    points = live.outline.points if live.outline else ()
    return [asdict(p) | {"verdict": point_verdict(live, p)} for p in points]


def _program(plan: EditPlan | None) -> Plain | None:
    if plan is None:
        return None
    shots = [
        [s.kind, float(s.program_start_s), float(s.duration_s), float(s.source_start_s),
         float(s.speed)]
        for s in plan.shots
    ]  # fmt: skip
    at = {s.program_start_s: float(s.source_start_s) for s in plan.shots if s.kind == "hold"}
    holds = [
        {
            "phase": h.phase, "stroke": h.stroke, "clip_s": h.clip_s, "inserted": h.inserted,
            "program_start_s": float(h.program_start_s), "duration_s": float(h.duration_s),
            "recording_s": at.get(h.program_start_s), "why": h.why,
        }
        for h in plan.holds
    ]  # fmt: skip
    return {
        "duration_s": float(plan.duration_s),
        "frame_rate": float(plan.frame_rate),
        "shots": shots,
        "holds": holds,
        "draft": plan.draft,
        "notices": list(plan.notices),
    }


def outputs(out: Path) -> list[Plain]:
    """The deliverables that are there, in a fixed order, then the stills."""
    names = [name for name in DELIVERABLES if (out / name).is_file()]
    rest = sorted(
        p.relative_to(out).as_posix()
        for p in out.rglob("*")
        if p.is_file() and not p.name.startswith(".")
    )
    names += [name for name in rest if name not in DELIVERABLES]
    return [
        {"name": name, "what": DELIVERABLES.get(name, ""), "size": (out / name).stat().st_size,
         "copy": name in PASTED}
        for name in names
    ]  # fmt: skip


def body(technique: Technique | None) -> Plain | None:
    """The body over clip time, packed; changes with catches, joints and capture speed only."""
    if technique is None:
        return None
    track = technique.body
    return {
        "time_s": packed(track.time_s, "f4"),
        "points": {name: packed(xy, "f4") for name, xy in track.points_px.items()},
        "angles": {name: packed(a, "f4") for name, a in track.angles_deg.items()},
        "facing": track.facing,
    }


def talk(live: Live) -> Plain:
    """What only a make can change: the media, the words, the playhead."""
    results = live.results
    words = results.words
    return {
        "recording": _media(results.recording),
        "clip": _media(results.clip),
        "words": [[w.text, round(w.start_s, 3), round(w.end_s, 3), round(w.probability, 2)]
                  for w in words.words] if words else [],
        "sentences": [[s.text, round(s.start_s, 3), round(s.end_s, 3)]
                      for s in words.sentences] if words else [],
        "playhead": _playhead(live),
    }  # fmt: skip


def _media(media: Any) -> Plain | None:
    if media is None or media.video is None:
        return None
    video = media.video
    return {
        "width_px": video.width_px,
        "height_px": video.height_px,
        "frame_rate": float(video.frame_rate),
        "duration_s": float(media.duration_s),
        "frames": video.frame_count,
    }


def _playhead(live: Live) -> Plain | None:
    playhead = live.results.playhead
    if playhead is None:
        return None
    return {
        "recording_s": packed(playhead.recording_s, "f4"),
        "clip_s": packed(playhead.clip_s, "f4"),
        "placement": packed(_runs(playhead.placement), "i4"),
        "clip_to_screen": playhead.clip_to_screen.round(5).tolist(),
        "spans": [
            [round(s.start_s, 3), round(s.end_s, 3), s.state, _r(s.clip_start_s), _r(s.clip_end_s)]
            for s in playhead.spans
        ],
        "width_px": playhead.width_px,
        "height_px": playhead.height_px,
    }


def _runs(values: Array) -> Array:
    """(N,) to (R, 2): first row of each run of equal values, and the value."""
    if not len(values):
        return np.zeros((0, 2), np.int32)
    starts = np.concatenate([[0], np.flatnonzero(np.diff(values)) + 1])
    runs: Array = np.stack([starts, np.asarray(values)[starts]], axis=1)
    return runs


def _r(value: float | None) -> float | None:
    return None if value is None or math.isnan(value) else round(value, 4)
