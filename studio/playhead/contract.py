"""The `launchside.playhead` JSON, and small questions to a playhead."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np

from studio.model.playhead import STATES, Playhead


def to_contract(playhead: Playhead) -> dict[str, Any]:
    """The playhead as the contract's plain data; times in seconds, rounded to microseconds."""
    return {
        "schema": "launchside.playhead",
        "version": 1,
        "samples": {
            "recording_s": [round(float(t), 6) for t in playhead.recording_s],
            "clip_s": [_or_none(t) for t in playhead.clip_s],
            "state": [STATES[int(s)] for s in playhead.state],
        },
        "placements": _placements(playhead),
        "spans": [
            {
                "start_s": round(span.start_s, 6),
                "end_s": round(span.end_s, 6),
                "state": span.state,
                "clip_start_s": _or_none(span.clip_start_s),
                "clip_end_s": _or_none(span.clip_end_s),
                "rate": _or_none(span.rate),
            }
            for span in playhead.spans
        ],
    }


def _or_none(value: float | None) -> float | None:
    return None if value is None or math.isnan(value) else round(float(value), 6)


def _placements(playhead: Playhead) -> list[dict[str, Any]]:
    """Stretches of one placement, in order of recording time."""
    at = playhead.placement
    if not len(at):
        return []
    edges = [0, *(np.flatnonzero(np.diff(at)) + 1).tolist(), len(at)]
    last = playhead.spans[-1].end_s if playhead.spans else float(playhead.recording_s[-1])
    ends = np.append(playhead.recording_s, last)
    found = []
    for a, b in itertools.pairwise(edges):
        if at[a] < 0:
            continue
        matrix = playhead.clip_to_screen[int(at[a])]
        found.append(
            {
                "start_s": round(float(ends[a]), 6),
                "end_s": round(float(ends[b]), 6),
                "clip_to_screen": [[round(float(v), 6) for v in row] for row in matrix],
                "mirrored": bool(matrix[0, 0] < 0),
            }
        )
    return found
