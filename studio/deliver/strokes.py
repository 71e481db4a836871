"""Where in the stroke a clip moment lies."""

from __future__ import annotations

from dataclasses import dataclass

from studio.model.technique import Stroke, Technique

Share = tuple[float, float]
AT_CATCH_S = 0.04
"""A catch is known to about a frame: this little before it counts as the catch itself, or a picture
held at the catch would be called the end of the recovery."""


@dataclass(frozen=True, slots=True)
class StrokeMoment:
    """A moment of a stroke: seconds of clip time since the catch, and the two phases' lengths."""

    stroke: Stroke
    now_s: float
    drive_s: float
    recovery_s: float

    @property
    def driving(self) -> bool:
        """Between catch and finish."""
        return self.now_s < self.drive_s


@dataclass(frozen=True, slots=True)
class Recovery:
    """When arms, body and legs move, as shares of a recovery, and the current moment's share."""

    arms: Share
    body: Share
    legs: Share
    now: float | None


class StrokeClock:
    """Tells the stroke of any clip moment."""

    def __init__(self, technique: Technique) -> None:
        self._strokes = [
            s
            for s in technique.strokes
            if s.catch_s is not None and s.finish_s is not None and s.next_catch_s is not None
        ]

    def at(self, clip_s: float) -> StrokeMoment | None:
        """The complete stroke a moment lies in; None outside all of them."""
        for stroke in self._strokes:
            catch, finish, following = _times(stroke)
            end = following if stroke is self._strokes[-1] else following - AT_CATCH_S
            if catch - AT_CATCH_S <= clip_s <= end:
                now_s = max(0.0, clip_s - catch)
                return StrokeMoment(stroke, now_s, finish - catch, following - finish)
        return None

    def recovery(self, clip_s: float) -> Recovery | None:
        """The order of a moment's own recovery; None where an event of it was not seen."""
        moment = self.at(clip_s)
        if moment is None or moment.recovery_s <= 0:
            return None
        _, finish, _ = _times(moment.stroke)
        events = moment.stroke.events_s
        if not {"hands_away", "body_over", "knees_bend"} <= events.keys():
            return None
        away, over, knees = (
            (events[name] - finish) / moment.recovery_s
            for name in ("hands_away", "body_over", "knees_bend")
        )
        now = (clip_s - finish) / moment.recovery_s
        return Recovery(
            (0.0, away), (min(away, over), over), (knees, 1.0), now if now >= 0 else None
        )


def _times(stroke: Stroke) -> tuple[float, float, float]:
    assert stroke.catch_s is not None
    assert stroke.finish_s is not None
    assert stroke.next_catch_s is not None
    return stroke.catch_s, stroke.finish_s, stroke.next_catch_s
