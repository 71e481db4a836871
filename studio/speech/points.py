"""Talking points: each praise, change, coaching cue and drill that the coach voices."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from studio.model.playhead import Playhead
from studio.model.speech import TalkingPoint
from studio.model.technique import Technique
from studio.speech import lexicon, topics
from studio.speech.acts import HEADING_WORDS, count
from studio.speech.talk import POINT_PARTS, Remark

CARRY_S = 12.0
"""A topic is carried over to a sentence that names none, up to this long after it was named."""
HEADING = 2.5
"""What a heading ("So, the lunge.") adds to its topic in the sentences under it."""
BACKREF = 2.0
"""What "that is why" and the like add to the topic spoken of just before."""
HEADED_S = 45.0
"""A heading stands over no more than this of talk."""
_FILLERS = re.compile(
    r"(?:(?<=\s)|^)(?:um+|uh+|erm?|ah|mm+|you know|i mean|sort of|kind of|like i said|what is it)"
    r"(?:,\s*|\s+(?=\S))", re.IGNORECASE,
)  # fmt: skip
_OPENERS = re.compile(
    r"^(?:(?:okay|ok|right|alright|so|and|now|well|yeah|yep|oh|then|but|anyway|also|look"
    r"|see(?! how)|next one|first thing|second thing|last thing"
    r"|for a start)(?:,\s*|\s+(?=[a-z]{3}\S* )))+",
    re.IGNORECASE,
)
_RESTART = re.compile(r"\b(\w+(?:\s\w+){0,2})(?:,|\u2014|\.\.\.|\s-)?\s\1\b", re.IGNORECASE)
_POINTING_BACK = frozenset(
    ["that", "this", "it", "those", "these", "which", "they", "both", "same"]
)
_MEANT = frozenset(["very", "really", "no", "long", "far", "so", "that", "had"])


@dataclass(slots=True)
class Draft:
    """A point as it is gathered; recording time."""

    kind: str
    topic: str
    remarks: list[Remark] = field(default_factory=list)
    said: dict[str, float] = field(default_factory=dict)
    block: int = 0
    phase: str | None = None

    @property
    def start_s(self) -> float:
        """Where it begins."""
        return self.remarks[0].sentence.start_s

    @property
    def end_s(self) -> float:
        """Where it ends."""
        return self.remarks[-1].sentence.end_s

    def take(self, remark: Remark) -> None:
        """Add a sentence."""
        self.remarks.append(remark)
        for phase, n in topics.phase_scores(remark.plain).items():
            self.said[phase] = self.said.get(phase, 0.0) + n


def find_points(
    remarks: Sequence[Remark], playhead: Playhead | None, technique: Technique | None
) -> list[Draft]:
    """Every talking point, in order of its start; recording time."""
    drafts = _gather(remarks)
    _place(drafts, remarks, playhead, technique)
    return sorted(_merged(drafts), key=lambda d: (d.start_s, d.end_s))


def finished(draft: Draft) -> TalkingPoint:
    """A draft as a talking point, its words cleaned."""
    words = " ".join(clean(r.sentence.text) for r in draft.remarks)
    return TalkingPoint(
        draft.kind, draft.phase, draft.topic, words, round(draft.start_s, 3), round(draft.end_s, 3)
    )


def clean(text: str) -> str:
    """A sentence without fillers, false starts and openers, beginning with a capital."""
    made = _FILLERS.sub("", text.strip())
    made = _OPENERS.sub("", made) or made
    made = _RESTART.sub(
        lambda m: m[0] if m[1].lower() in _MEANT else m[1], made
    )  # fmt: skip
    made = re.sub(r"\s+([,.?!])", r"\1", re.sub(r"\s{2,}", " ", made)).strip(" ,")
    return made[:1].upper() + made[1:]


def _blocks(remarks: Sequence[Remark]) -> list[int]:
    """Number of the stretch of talk that each sentence belongs to."""
    made: list[int] = []
    number = 0
    for i, remark in enumerate(remarks):
        number += i > 0 and topics.opens(remark, remarks[:i])
        made.append(number)
    return made


def _gather(remarks: Sequence[Remark]) -> list[Draft]:
    blocks = _blocks(remarks)
    drafts: list[Draft] = []
    waiting: list[Remark] = []
    heading: tuple[int, str] = (-1, "")
    for i, remark in enumerate(remarks):
        if remark.part in ("aside", "advice"):
            continue
        if waiting and waiting[0].part != remark.part:
            drafts += _hinted(waiting, blocks[i - 1])
            waiting = []
        if remark.part not in POINT_PARTS:
            continue
        if remark.hits["header"]:
            heading = (blocks[i], topics.hinted(remark))
        topic = _topic(remark, blocks[i], drafts, heading)
        if topic:
            _add(drafts, remark, topic, waiting, blocks[i])
            waiting = []
        else:
            waiting.append(remark)
    return [d for d in drafts if any(_speaks(r) for r in d.remarks) and _borne_out(d, drafts)]


def _borne_out(draft: Draft, drafts: Sequence[Draft]) -> bool:
    """Whether a change is one: a word that says so, or a coaching cue or drill for it.

    Without either it may be praise in words nobody knows, and to publish that as a fault is worse
    than to leave it out.
    """
    if draft.kind != "change":
        return True
    judged = any(r.hits["fault"] + r.hits["fix"] + r.hits["plan_change"] > 0 for r in draft.remarks)
    advice = (d for d in drafts if d.kind in ("coaching_cue", "drill"))
    return judged or any(d.topic == draft.topic for d in advice)


def _add(
    drafts: list[Draft], remark: Remark, topic: str, waiting: Sequence[Remark], block: int
) -> None:
    """Put a sentence, and those that waited for its topic, to the last point or to a new one."""
    last = drafts[-1] if drafts else None
    if last is None or (last.kind, last.topic) != (remark.part, topic) or not _near(last, remark):
        last = Draft(remark.part, topic, block=block)
        drafts.append(last)
        waiting = [w for w in waiting if not w.plans]
    for each in (*waiting, remark):
        last.take(each)
    second = _second(remark, topic)
    if second:
        extra = Draft(*second, block=block)
        extra.take(remark)
        drafts.insert(-1, extra)


def _hinted(waiting: Sequence[Remark], block: int) -> list[Draft]:
    """A point of sentences that only hint at their topic, taken together; none without a hint."""
    if not any(r.hits["praise"] + r.hits["fault"] + r.hits["imperative"] for r in waiting):
        return []
    pooled: dict[str, float] = {}
    for remark in waiting:
        for topic, score in topics.evidence(remark).items():
            pooled[topic] = pooled.get(topic, 0.0) + score
    if not pooled:
        return []
    made = Draft(waiting[0].part, max(pooled, key=lambda t: pooled[t]), block=block)
    for remark in waiting:
        made.take(remark)
    return [made]


def _near(draft: Draft, remark: Remark) -> bool:
    return remark.sentence.start_s - draft.end_s <= CARRY_S


def _speaks(remark: Remark) -> bool:
    """Whether it says something of the athlete, and not of what would be or what is to come."""
    if remark.plans:
        return False
    praise = remark.hits["praise"] + remark.hits["keep_it"]
    return remark.part != "keep" or praise > 0 or "would" not in remark.plain.words


def _topic(remark: Remark, block: int, drafts: Sequence[Draft], heading: tuple[int, str]) -> str:
    """What the sentence is about: its own words, else what the talk was just about."""
    said = topics.phase_scores(remark.plain)
    own = topics.evidence(remark)
    last = drafts[-1] if drafts else None
    if remark.part in ("coaching_cue", "drill"):
        return _advised(remark, own, said, drafts)
    if heading[1] and heading[0] == block:
        clear = any(score >= topics.ENOUGH for score in own.values())
        own[heading[1]] = own.get(heading[1], 0.0) + (1.0 if clear else HEADING)
    before = last.topic if last and last.block == block else ""
    if before and remark.hits["hypothetical"]:
        return before
    points_back = bool(_POINTING_BACK.intersection(remark.plain.words[:1]))
    if before and points_back:
        own[before] = own.get(before, 0.0) + BACKREF
    topic = topics.best(topics.fitting(own, said, before))
    if topic:
        return topic
    fresh = remark.turns or remark.plans or remark.hits["moving"] or remark.hits["points"]
    if last is None or fresh or last.block != block or not _near(last, remark):
        return ""
    return last.topic


def _advised(
    remark: Remark,
    own: dict[str, float],
    said: dict[str, float],
    drafts: Sequence[Draft],
) -> str:
    """What a coaching cue or drill is for: mostly a fault of the same stretch of talk."""
    if not drafts or not _near(drafts[-1], remark):
        return topics.best(topics.fitting(own, said))
    recent = [d for d in drafts if d.block == drafts[-1].block]
    known = {d.topic for d in recent if d.kind in ("change", "coaching_cue", "drill")}
    if not known:
        return topics.best(topics.fitting(own, said)) or recent[-1].topic
    faults = [d.topic for d in recent if d.kind != "keep"]
    scored = {t: own.get(t, 0.0) + (1.0 if t == faults[-1] else 0.0) for t in known}
    return max(scored, key=lambda t: scored[t])


def _second(remark: Remark, topic: str) -> tuple[str, str] | None:
    """The other half of "lovely rhythm, but the rate creeps": its kind and topic."""
    if remark.part not in ("keep", "change"):
        return None
    match = re.search(r"[,;]?\s+(?:but|however|though|although)\b", remark.sentence.text, re.I)
    if not match:
        return None
    halves = [
        lexicon.plain(t)
        for t in (remark.sentence.text[: match.start()], remark.sentence.text[match.end() :])
    ]
    made: list[tuple[str, str]] = []
    for half in halves:
        hits = count(half)
        tilt = hits["praise"] + hits["keep_it"] - hits["fault"] - hits["fix"]
        kind = "keep" if tilt > 0 else "change" if tilt < 0 else ""
        made.append((kind, topics.best(topics.topic_scores(half))))
    for kind, other in made:
        if kind and other and kind != remark.part and other != topic and all(k for k, _ in made):
            return kind, other
    return None


def _place(
    drafts: Sequence[Draft],
    remarks: Sequence[Remark],
    playhead: Playhead | None,
    technique: Technique | None,
) -> None:
    """Give each draft its phase."""
    blocks = _blocks(remarks)
    named: list[tuple[float, int, str]] = []
    for remark, block in zip(remarks, blocks, strict=True):
        said = topics.phase_scores(remark.plain)
        if said and remark.part not in ("aside", "advice", "intro", "background"):
            named.append((remark.sentence.start_s, block, max(said, key=lambda p: said[p])))
    heads = [
        (r.sentence.start_s, r.plain) for r in remarks
        if r.hits["header"] and len(r.plain.words) <= HEADING_WORDS
    ]  # fmt: skip
    for i, draft in enumerate(drafts):
        running = next(
            (p for at, b, p in reversed(named) if at < draft.start_s and draft.block - b <= 1), None
        )
        screen = topics.on_screen(playhead, technique, draft.start_s, draft.end_s)
        if draft.kind in ("coaching_cue", "drill"):
            source = next((d for d in reversed(drafts[:i]) if d.topic == draft.topic), None)
            if source and draft.start_s - source.end_s <= 3 * CARRY_S:
                draft.phase = source.phase
                continue
        if running is None and i and drafts[i - 1].block == draft.block:
            running = drafts[i - 1].phase
        headed = _headed(heads, draft.start_s)
        draft.phase = topics.place(draft.topic, draft.said, running, screen, headed)


def _headed(heads: Sequence[tuple[float, lexicon.Plain]], start_s: float) -> str | None:
    """The phase of the last heading, if it named one and not too long ago."""
    for at, plain in reversed(heads):
        if at <= start_s:
            said = topics.phase_scores(plain)
            recent = start_s - at <= HEADED_S
            return max(said, key=lambda p: said[p]) if said and recent else None
    return None


def _merged(drafts: Sequence[Draft]) -> list[Draft]:
    """Neighbours of one kind, phase and topic made one."""
    made: list[Draft] = []
    for draft in drafts:
        last = made[-1] if made else None
        same = last and (last.kind, last.phase, last.topic) == (
            draft.kind, draft.phase, draft.topic
        )  # fmt: skip
        if last and same and draft.start_s - last.end_s <= CARRY_S:
            made[-1] = replace(last, remarks=[*last.remarks, *draft.remarks])
            continue
        made.append(draft)
    return made
