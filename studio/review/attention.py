"""What deserves a look first: what is unsure, contradicts itself, or waits for the coach's word."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from statistics import median
from typing import Any

import numpy as np

from studio.config import CaptionFix
from studio.model.speech import Chapter, Word
from studio.model.technique import BodyTrack, Stroke, Technique
from studio.review.live import Live, finding_verdict, point_verdict
from studio.speech.caption_fixes import nearest
from studio.timebase import clock_face

SURE = 0.6
"""Below this a confidence is worth a look."""
ODD_SHARE = 0.15
"""A stroke whose drive or recovery differs by more from the others' is odd: rowers at a steady rate
hold both within a few percent."""
MOVING_SHARE = 0.25
"""At a true turn the handle stands still; a share of its greatest speed above this is no turn."""
WORD_SURE = 0.5
SHORT_WORD = 3
PLAYHEAD_SURE = 0.5
FAST_CPS = 21.0
"""Characters a second that few can read: the limit of a large talk site's captions (facts A1)."""
SHORT_CHAPTER_S = 10.0
LONG_TITLE = 49
"""Video hosts drop a chapter list with one shorter than 10 s, and cut titles (facts B5)."""
MOST = 40


@dataclass(frozen=True, slots=True)
class Look:
    """One thing to look at.

    Attributes:
        weight: Larger comes first.
        text: What is odd, one sentence.
        panel: Which panel of the page mends it.
        clock: Clock of `time_s`: "clip" or "recording"; empty = no moment.
        time_s: Where to look.
        key: Names the thing in its panel, so that the page can point at it.
    """

    weight: float
    text: str
    panel: str
    clock: str = ""
    time_s: float = 0.0
    key: str = ""


def attention(live: Live) -> list[dict[str, Any]]:
    """At most `MOST` things, the weightiest first, as plain rows."""
    found = [look for rule in RULES for look in rule(live)]
    found.sort(key=lambda look: -look.weight)
    return [
        {"text": look.text, "panel": look.panel, "clock": look.clock,
         "time_s": round(look.time_s, 3), "key": look.key}
        for look in found[:MOST]
    ]  # fmt: skip


def _troubles(live: Live) -> Iterator[Look]:
    for trouble in live.troubles:
        yield Look(10, trouble, "look")


def _settings(live: Live) -> Iterator[Look]:
    if live.settings.athlete.consent == "unknown":
        yield Look(9, "Consent is not recorded: the episode stays a draft, with the face blurred.",
                   "athlete", key="consent")  # fmt: skip
    technique = live.technique
    if technique is None:
        return
    if technique.time_factor is None:
        yield Look(9, "The clip looks like slow motion: say how fast it was captured.", "athlete",
                   key="captured_fps")  # fmt: skip
    for notice in technique.notices:
        if technique.time_factor is not None or "slow motion" not in notice:
            yield Look(5, notice, "technique")


def _turns(live: Live) -> Iterator[Look]:
    technique = live.technique
    if technique is None:
        return
    speed = handle_speed(technique.body)
    for stroke in technique.strokes:
        for event, time_s in (("catch", stroke.catch_s), ("finish", stroke.finish_s)):
            if time_s is None:
                continue
            moving = float(np.interp(time_s, technique.body.time_s, speed))
            if moving > MOVING_SHARE:
                yield Look(8, f"Stroke {stroke.index + 1}: the handle is still moving at this "
                              f"{event}.", "technique", "clip", time_s,
                           f"{event}:{stroke.index}")  # fmt: skip
        if stroke.confidence < SURE:
            at = stroke.catch_s if stroke.catch_s is not None else stroke.finish_s or 0.0
            yield Look(6, f"Stroke {stroke.index + 1} was hard to see.", "technique", "clip", at,
                       f"stroke:{stroke.index}")  # fmt: skip


def handle_speed(body: BodyTrack) -> Any:
    """(T,) speed of the handle along x, share of its 95th percentile; 0 where unknown."""
    if len(body.time_s) < 3:
        return np.zeros(len(body.time_s))
    speed = np.abs(np.gradient(body.points_px["handle"][:, 0].astype(float), body.time_s))
    known = speed[np.isfinite(speed)]
    top = float(np.percentile(known, 95)) if len(known) else 0.0
    return np.nan_to_num(speed / top) if top else np.zeros(len(speed))


def _rhythm(live: Live) -> Iterator[Look]:
    strokes = live.technique.strokes if live.technique else ()
    for name, first, last in (("drive", "catch_s", "finish_s"),
                              ("recovery", "finish_s", "next_catch_s")):  # fmt: skip
        lengths = {s.index: length for s in strokes if (length := _span(s, first, last))}
        if len(lengths) < 3:
            continue
        usual = median(lengths.values())
        for stroke in strokes:
            length = lengths.get(stroke.index, usual)
            if abs(length - usual) > ODD_SHARE * usual:
                longer = "longer" if length > usual else "shorter"
                yield Look(7, f"Stroke {stroke.index + 1}: its {name} is {longer} than the others' "
                              f"({length:.2f} s of clip, usually {usual:.2f} s).", "technique",
                           "clip", getattr(stroke, first), f"stroke:{stroke.index}")  # fmt: skip


def _span(stroke: Stroke, first: str, last: str) -> float | None:
    start, end = getattr(stroke, first), getattr(stroke, last)
    return None if start is None or end is None else end - start


def _findings(live: Live) -> Iterator[Look]:
    technique: Technique | None = live.technique
    for finding in technique.findings if technique else ():
        open_ = not finding_verdict(live, finding.code)
        if open_ and finding.confidence < SURE:
            at = finding.evidence_s[0] if finding.evidence_s else 0.0
            yield Look(4, f"Unsure finding: {finding.text}", "technique", "clip", at,
                       f"finding:{finding.code}")  # fmt: skip


def _points(live: Live) -> Iterator[Look]:
    for point in live.outline.points if live.outline else ():
        if point.agrees is False and not point_verdict(live, point):
            yield Look(7, f"You say “{_brief(point.text)}”; the clip measures otherwise.", "points",
                       "recording", point.start_s, f"point:{point.start_s:.3f}")  # fmt: skip
    for notice in live.outline.notices if live.outline else ():
        if "measures otherwise" not in notice:  # told above, with the moment
            yield Look(3, notice, "chapters")


def _brief(text: str, most: int = 90) -> str:
    return text if len(text) <= most else text[:most].rsplit(" ", 1)[0] + " …"


def _words(live: Live) -> Iterator[Look]:
    words = live.results.words
    if words is None:
        return
    fixed = {fix.heard.lower() for fix in live.corrections.words}
    checked = _checked(live)

    def seen(at_s: float) -> bool:
        return any(start <= at_s < end for start, end in checked)

    told = [gap for gap in words.doubtful if not (_filling(gap.text) or seen(gap.start_s))]
    for gap in told:
        yield Look(4, f"A voice, but unsure words: “{gap.text}”.", "captions", "recording",
                   gap.start_s, f"cue:{gap.start_s:.3f}")  # fmt: skip
    unsure = (
        w
        for w in words.words
        if w.probability < WORD_SURE / (2 if _filling(w.text) else 1)
        and not (seen(w.start_s) or any(gap.start_s <= w.start_s < gap.end_s for gap in told))
    )
    for _, group in groupby(unsure, key=lambda w: int(w.start_s // 3)):
        run: list[Word] = list(group)
        around = [w for w in words.words if run[0].start_s - 1 < w.start_s < run[-1].end_s + 1]
        text = " ".join(f"[{w.text}]" if w in run else w.text for w in around)
        if not any(_bare(w.text) in fixed for w in run):
            surest = min(w.probability for w in run)
            yield Look(3 + 2 * (WORD_SURE - surest), f"Hard to hear: “… {text} …”",
                       "captions", "recording", run[0].start_s,
                       f"cue:{run[0].start_s:.3f}")  # fmt: skip
    for repair in words.repairs:
        if seen(repair.start_s):
            continue
        yield Look(3.5, f"Heard “{repair.heard}”, wrote “{repair.text}”.", "captions", "recording",
                   repair.start_s, f"cue:{repair.start_s:.3f}")  # fmt: skip


def _checked(live: Live) -> list[tuple[float, float]]:
    """Stretches whose caption the coach has written, or found right as it is; recording time."""
    found = []
    for fix in live.corrections.captions:
        k = nearest(live.made, fix)
        if k is not None and fix.text is not None:
            found.append((live.made[k].start_ms / 1000 - 0.3, live.made[k].end_ms / 1000 + 0.3))
    return found


def lost_captions(live: Live) -> list[CaptionFix]:
    """Corrections of captions that the talk, heard or worded anew, does not have any more."""
    fixes = live.corrections.captions if live.results.words is not None else ()
    return [fix for fix in fixes if nearest(live.made, fix) is None]


def _bare(text: str) -> str:
    return text.strip(".,?!;: ").lower()


def _filling(text: str) -> bool:
    """One short word: mostly filling, so that a slip in it hurts little."""
    return len(_bare(text)) <= SHORT_WORD


def _captions(live: Live) -> Iterator[Look]:
    for fix in lost_captions(live):
        meant = f" “{_brief(' '.join(fix.text.split()))}”" if fix.text else ""
        yield Look(6, f"The caption that you put right here{meant} is not there any more.",
                   "captions", "recording", fix.recording_s,
                   f"lost:{fix.recording_s:.3f}")  # fmt: skip
    for cue in live.cues:
        chars = sum(len(line) for line in cue.lines)
        rate = 1000 * chars / (cue.end_ms - cue.start_ms)
        if rate > FAST_CPS:
            yield Look(2, f"Too fast to read ({rate:.0f} characters a second): "
                          f"“{' '.join(cue.lines)}”.", "captions", "recording",
                       cue.start_ms / 1000, f"cue:{cue.start_ms / 1000:.3f}")  # fmt: skip


def _chapters(live: Live) -> Iterator[Look]:
    chapters = live.outline.chapters if live.outline else ()
    titles = [c.title.lower() for c in chapters]
    for chapter in chapters:
        trouble = ""
        if chapter.end_s - chapter.start_s < SHORT_CHAPTER_S:
            trouble = "is shorter than 10 s: video hosts would drop the whole list"
        elif len(chapter.title) > LONG_TITLE:
            trouble = "has a title too long to show in full"
        elif titles.count(chapter.title.lower()) > 1:
            trouble = "shares its title with another"
        elif not _fits(chapter, live):
            trouble = "has a title that nothing said in it bears out"
        if trouble:
            yield Look(5, f"Chapter “{chapter.title}” {trouble}.", "chapters", "recording",
                       chapter.start_s, f"chapter:{chapter.start_s:.3f}")  # fmt: skip


def _fits(chapter: Chapter, live: Live) -> bool:
    """Whether a title shares a word (or its stem) with what is said; fixed kinds always fit."""
    words = live.results.words
    if chapter.kind in ("intro", "outro", "recap", "background") or words is None:
        return True
    said = {
        _stem(word)
        for s in words.sentences
        if s.start_s < chapter.end_s and s.end_s > chapter.start_s
        for word in s.text.split()
    }
    title = {_stem(word) for word in chapter.title.split()} - {""}
    return not title or bool(title & said) or chapter.phase in chapter.title.lower().split()


def _stem(word: str) -> str:
    bare = "".join(c for c in word.lower() if c.isalnum())
    return bare[:4] if len(bare) > 3 else ""


def _playhead(live: Live) -> Iterator[Look]:
    playhead = live.results.playhead
    if playhead is None:
        return
    for notice in playhead.notices:
        yield Look(4, notice, "look")
    low = (playhead.state > 0) & (playhead.confidence < PLAYHEAD_SURE)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], low.astype(np.int8), [0]])))
    for first, after in edges.reshape(-1, 2):
        start, end = (float(playhead.recording_s[k]) for k in (first, after - 1))
        if end - start > 0.5:
            yield Look(4 + min(1.0, (end - start) / 10),
                       f"Not sure which moment of the clip is on screen for {end - start:.0f} s "
                       f"from {clock_face(start)}.", "look", "recording", start)  # fmt: skip


RULES = (_troubles, _settings, _turns, _rhythm, _findings, _points, _words, _captions, _chapters,
         _playhead)  # fmt: skip
