"""Where nobody is in mid-sentence, read off the captions."""

from __future__ import annotations

from studio.model.speech import Cue

EDGE_S = 0.1
"""Caption times are this coarse against the words they stand for."""
JOIN_S = 1.0
"""A sentence may go on after a pause this long; longer, and the pause itself is the gap."""
CLOSERS = "\"')\u00bb\u201d\u2019 "
STOPS = (".", "?", "!", "…", "\u3002", "\uff1f", "\uff01")


def between_sentences(recording_s: float, cues: tuple[Cue, ...]) -> bool:
    """Whether a moment lies between two sentences; recording time, as the cues."""
    before: Cue | None = None
    after: Cue | None = None
    for cue in cues:
        if cue.start_ms / 1000 + EDGE_S < recording_s < cue.end_ms / 1000 - EDGE_S:
            return False
        if cue.end_ms / 1000 - EDGE_S <= recording_s:
            before = cue
        elif after is None:
            after = cue
    if before is None or after is None:
        return True
    ended = " ".join(before.lines).rstrip(CLOSERS).endswith(STOPS)
    return ended or (after.start_ms - before.end_ms) / 1000 > JOIN_S
