"""The coach's corrections of captions: which captions each one means, and what it makes of them."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from itertools import accumulate

from studio.config import CaptionFix
from studio.model.speech import Cue

NEAR_MS = 500
"""A correction belongs to the caption that starts nearest, within this."""


@dataclass(frozen=True, slots=True)
class Group:
    """A caption as made, or several that were merged, with their corrections.

    Attributes:
        cues: As made, in order, ms of recording time.
        fixes: One a cue; None = left as made.
    """

    cues: tuple[Cue, ...]
    fixes: tuple[CaptionFix | None, ...]

    @property
    def made(self) -> str:
        """The text as made."""
        return " ".join(line for cue in self.cues for line in cue.lines)

    @property
    def parts(self) -> list[str]:
        """The text as it is now: each part is a caption of its own."""
        text = ""
        for cue, fix in zip(reversed(self.cues), reversed(self.fixes), strict=True):
            own = " ".join(cue.lines) if fix is None or fix.text is None else tidy(fix.text)
            text = f"{own} {text}".strip()
            if fix is not None and fix.split_at is not None and 0 < fix.split_at < len(text):
                text = tidy(f"{text[: fix.split_at]}\n{text[fix.split_at :]}")
        return text.splitlines()

    @property
    def start_ms(self) -> int:
        """When it appears."""
        own = self.fixes[0].start_s if self.fixes[0] else None
        return self.cues[0].start_ms if own is None else max(0, round(1000 * own))

    @property
    def end_ms(self) -> int:
        """When it goes, later than it appears."""
        own = [f.end_s for f in (self.fixes[0], self.fixes[-1]) if f and f.end_s is not None]
        end = round(1000 * own[0]) if own else self.cues[-1].end_ms
        return max(end, self.start_ms + 1)

    def at_ms(self, share: float, *, ends: bool) -> float:
        """When a share of the text, by letters, has been said, as the captions were made.

        Where one caption as made stops and another starts later, a part that `ends` there does so
        with the first and one that begins there begins with the second.
        """
        stretches = [(c.start_ms, c.end_ms) for c in self.cues]
        if (self.start_ms, self.end_ms) != (stretches[0][0], stretches[-1][1]):
            stretches = [(self.start_ms, self.end_ms)]  # the coach's own
        letters = [len(" ".join(c.lines)) + 1 for c in self.cues]
        edges = [0.0, *(n / sum(letters) for n in accumulate(letters))]
        if len(stretches) < len(letters):
            edges = [0.0, 1.0]
        k = (bisect_left if ends else bisect_right)(edges, share, 1, len(stretches))
        (start, end), before, after = stretches[k - 1], edges[k - 1], edges[k]
        return start + (end - start) * (share - before) / (after - before)


def tidy(text: str) -> str:
    """Single spaces, no empty lines."""
    lines = (" ".join(line.split()) for line in text.splitlines())
    return "\n".join(line for line in lines if line)


def groups(cues: Sequence[Cue], fixes: Sequence[CaptionFix]) -> list[Group]:
    """All captions with their corrections; those that were merged stand together."""
    by_cue = _by_cue(cues, fixes)
    found: list[Group] = []
    joins = False
    for k, cue in enumerate(cues):
        fix = by_cue.get(k)
        before = found.pop() if joins else Group((), ())
        found.append(Group((*before.cues, cue), (*before.fixes, fix)))
        joins = fix is not None and fix.join_next
    return found


def nearest(cues: Sequence[Cue], fix: CaptionFix) -> int | None:
    """Index of the caption that a correction means; None where there is none near."""
    wanted = round(1000 * fix.recording_s)
    best = min(range(len(cues)), key=lambda k: abs(cues[k].start_ms - wanted), default=None)
    return best if best is not None and abs(cues[best].start_ms - wanted) <= NEAR_MS else None


def _by_cue(cues: Sequence[Cue], fixes: Sequence[CaptionFix]) -> dict[int, CaptionFix]:
    """Index of the caption to its correction; of two, the later one adds to the first."""
    found: dict[int, CaptionFix] = {}
    for fix in fixes:
        k = nearest(cues, fix)
        if k is None:
            continue
        said = {n: v for n, v in asdict(fix).items() if v is not None and v is not False}
        found[k] = replace(found[k], **said) if k in found else fix
    return found
