"""The `launchside.strokes` JSON that other programs read; docs/data-model.md has its schema."""

from __future__ import annotations

from typing import Any

import numpy as np

from studio.model.arrays import Array
from studio.model.media import MediaFile
from studio.model.technique import ANGLES, POINTS, Finding, Measure, Stroke, Technique


def to_contract(technique: Technique, clip: MediaFile) -> dict[str, Any]:
    """Plain JSON values; unknown is None, never a guess."""
    body = technique.body
    times = _rounded(body.time_s, 6)
    video = clip.video
    return {
        "schema": "launchside.strokes",
        "version": 1,
        "clip": {
            "fps": float(video.frame_rate) if video else None,
            "frames": len(times),
            "width_px": video.width_px if video else None,
            "height_px": video.height_px if video else None,
            "time_factor": technique.time_factor,
        },
        "source": body.source,
        "facing": body.facing,
        "view": {
            "yaw_deg": technique.view.yaw_deg,
            "roll_deg": technique.view.roll_deg,
            "square": technique.view.square,
            "warnings": list(technique.view.warnings),
        },
        "notices": list(technique.notices),
        "catches_s": [round(s.catch_s, 4) for s in technique.strokes if s.catch_s is not None],
        "finishes_s": [round(s.finish_s, 4) for s in technique.strokes if s.finish_s is not None],
        "strokes": [
            _stroke(s, technique.time_factor, rate)
            for s, rate in zip(technique.strokes, _rates(technique), strict=True)
        ],
        "angles": {"time_s": times}
        | {f"{name}_deg": _rounded(body.angles_deg[name], 2) for name in ANGLES},
        "points_px": {"time_s": times}
        | {name: _rounded(body.points_px[name], 1) for name in POINTS},
        "measures": [_measure(m) for m in technique.measures],
        "findings": [_finding(f) for f in technique.findings],
        "further_findings": [_finding(f) for f in technique.further],
    }


def _rates(technique: Technique) -> tuple[float | None, ...]:
    found = next((m.per_stroke for m in technique.measures if m.name == "rate"), ())
    return found or (None,) * len(technique.strokes)


def _stroke(stroke: Stroke, factor: float | None, rate_spm: float | None) -> dict[str, Any]:
    drive = _span(stroke.catch_s, stroke.finish_s)
    recovery = _span(stroke.finish_s, stroke.next_catch_s)
    return {
        "catch_s": _round(stroke.catch_s),
        "finish_s": _round(stroke.finish_s),
        "next_catch_s": _round(stroke.next_catch_s),
        "rate_spm": rate_spm,
        "drive_s": round(drive / factor, 4) if drive and factor else None,
        "recovery_s": round(recovery / factor, 4) if recovery and factor else None,
        "ratio": round(recovery / drive, 3) if drive and recovery else None,
        "complete": stroke.complete,
        "confidence": stroke.confidence,
        "events_s": stroke.events_s,
    }


def _measure(measure: Measure) -> dict[str, Any]:
    return {
        "name": measure.name,
        "label": measure.label,
        "value": measure.value,
        "unit": measure.unit,
        "spread": measure.spread,
        "strokes": measure.strokes,
        "confidence": measure.confidence,
        "error": measure.error,
        "per_stroke": list(measure.per_stroke),
        "reason": measure.reason,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "kind": finding.kind,
        "phase": finding.phase,
        "topic": finding.topic,
        "text": finding.text,
        "coaching_cue": finding.coaching_cue,
        "drill": finding.drill,
        "evidence_s": list(finding.evidence_s),
        "source": finding.source,
        "measure": finding.measure,
        "confidence": finding.confidence,
        "caution": finding.caution,
    }


def _span(start: float | None, end: float | None) -> float | None:
    return None if start is None or end is None else end - start


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _rounded(values: Array, digits: int) -> list[Any]:
    """(T,) or (T, 2) to lists; a NaN, or a point with one, becomes None."""
    known = np.isfinite(values) if values.ndim == 1 else np.isfinite(values).all(axis=1)
    plain = np.round(values.astype(float), digits).tolist()
    return [value if good else None for value, good in zip(plain, known, strict=True)]
