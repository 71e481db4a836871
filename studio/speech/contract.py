"""A transcript, chapters and talking points in the shapes that other programs read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from studio.model.speech import Chapter, TalkingPoint, Transcript


def to_contract(transcript: Transcript) -> dict[str, Any]:
    """The `launchside.speech` JSON, version 1; seconds of recording time."""
    return {
        "schema": "launchside.speech",
        "version": 1,
        "language": transcript.language,
        "words": [
            {
                "text": w.text,
                "start_s": round(w.start_s, 3),
                "end_s": round(w.end_s, 3),
                "probability": round(w.probability, 4),
            }
            for w in transcript.words
        ],
        "sentences": [_stretch(s.text, s.start_s, s.end_s) for s in transcript.sentences],
        "repairs": [
            {"heard": r.heard, "text": r.text, "start_s": round(r.start_s, 3)}
            for r in transcript.repairs
        ],
        "doubtful": [_stretch(s.text, s.start_s, s.end_s) for s in transcript.doubtful],
    }


def chapter_rows(chapters: Iterable[Chapter]) -> list[dict[str, Any]]:
    """Chapters on their own clock."""
    names = ("start_s", "end_s", "title", "phase", "kind")
    return [{name: getattr(chapter, name) for name in names} for chapter in chapters]


def point_rows(points: Iterable[TalkingPoint]) -> list[dict[str, Any]]:
    """Talking points, recording time."""
    names = ("kind", "phase", "topic", "text", "start_s", "end_s")
    return [{name: getattr(point, name) for name in names} for point in points]


def _stretch(text: str, start_s: float, end_s: float) -> dict[str, Any]:
    return {"text": text, "start_s": round(start_s, 3), "end_s": round(end_s, 3)}
