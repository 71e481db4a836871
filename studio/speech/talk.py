"""What the coach does in each sentence: praise, change, coaching cue, drill, recap, aside, ...

Each sentence gets a score for each part from its own words; the likeliest row of parts over the
whole talk is then found by the Viterbi algorithm (Rabiner L., "A tutorial on hidden Markov
models", Proc. IEEE 77, 1989), with costs of going from one part to the next that say how a
review runs. The scores are argued, not fitted: a word that settles a part weighs 3, one that
speaks for it 1 to 2, and a jump that a coach rarely makes costs 2 to 4.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from studio.model.speech import Sentence
from studio.speech import lexicon
from studio.speech.acts import HEADING_WORDS, MOST, count, imperative
from studio.speech.lexicon import Plain, act, find
from studio.speech.likeness import part_likeness, topic_head, topic_likeness
from studio.speech.retold import listed, retold, shifted

PARTS = (
    "intro", "background", "keep", "change", "coaching_cue", "drill", "recap", "outro", "aside",
    "advice",
)  # fmt: skip
POINT_PARTS = ("keep", "change", "coaching_cue", "drill")
LISTED_FROM = 0.75
"""Topics named again sooner than this share of the talk are no recap of it."""
RETOLD = 1.0
"""Weight of each further place of the talk that a late sentence takes up again."""
LIKE = 5.0
"""Weight of the encoder: its usual lead of 0.1 to 0.2 counts as half a word that speaks for it."""
SILENT_LIKE = 8.0
"""Its weight where no word praises, faults, orders or plans."""
ANNOUNCED_S = 2.0
"""What is announced follows within a breath."""
_INTERRUPT = ("aside", "advice")
_MAIN = tuple(p for p in PARTS if p not in _INTERRUPT)
_STATES: tuple[tuple[str, str], ...] = (
    *((p, p) for p in _MAIN),
    *((i, p) for i in _INTERRUPT for p in _MAIN),
)
"""What is being done now, and the part that it interrupts."""
_COST = {
    "intro": {"intro": 0.2, "background": 0.3, "keep": 0.8, "change": 0.8, "coaching_cue": 4,
              "drill": 5, "recap": 5, "outro": 7},
    "background": {"intro": 1.5, "background": 0.2, "keep": 0.7, "change": 0.7, "coaching_cue": 3,
                   "drill": 4, "recap": 5, "outro": 7},
    "keep": {"intro": 6, "background": 3.5, "keep": 0.2, "change": 1.0, "coaching_cue": 1.6,
             "drill": 2.5, "recap": 1.6, "outro": 3},
    "change": {"intro": 6, "background": 3.5, "keep": 1.2, "change": 0.2, "coaching_cue": 0.7,
               "drill": 1.2, "recap": 1.8, "outro": 4},
    "coaching_cue": {"intro": 6, "background": 4, "keep": 1.0, "change": 0.7, "coaching_cue": 0.4,
                     "drill": 0.7, "recap": 1.0, "outro": 3},
    "drill": {"intro": 6, "background": 4, "keep": 1.0, "change": 0.7, "coaching_cue": 1.4,
              "drill": 0.6, "recap": 1.0, "outro": 3},
    "recap": {"intro": 8, "background": 6, "keep": 4, "change": 4, "coaching_cue": 4, "drill": 4,
              "recap": 0.0, "outro": 1.0},
    "outro": {"intro": 8, "background": 6, "keep": 6, "change": 6, "coaching_cue": 6, "drill": 6,
              "recap": 3, "outro": 0.0},
}  # fmt: skip
_OUT, _STAY, _BACK = 1.2, 0.9, 0.4
"""Costs of interrupting, of going on doing so, and of coming back."""
_YES_OR_NO = re.compile(r"(?:yes|yeah|yep|no|nope|never|not at all)\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Remark:
    """One sentence and what is known of it; recording time.

    Attributes:
        sentence: As spoken.
        plain: As patterns see it.
        part: One of `PARTS`.
        hits: How often each kind of words occurs.
        praise: Net praise less net fault.
        turns: Opens something new.
        plans: Says what is coming, and is no point itself.
        near: How near (cosine above the mean) its words as a whole come to each topic.
        told: What the topic head adds to that, where no word names a topic.
    """

    sentence: Sentence
    plain: Plain
    part: str
    hits: dict[str, float] = field(default_factory=dict)
    praise: float = 0.0
    turns: bool = False
    plans: bool = False
    near: dict[str, float] = field(default_factory=dict)
    told: dict[str, float] = field(default_factory=dict)


def read(sentences: Sequence[Sentence]) -> list[Remark]:
    """Every sentence with its part; same clock as the sentences."""
    if not sentences:
        return []
    sentences = _announced(_answered(sentences))
    plains = [lexicon.plain(s.text) for s in sentences]
    hits = [count(p, s.text) for p, s in zip(plains, sentences, strict=True)]
    for row, over, again in zip(hits, listed(plains), retold(plains), strict=True):
        fresh = row["viewers"] or row["drill"]
        row["listed"] = 0.0 if fresh else over
        row["retold"] = 0.0 if fresh else float(min(MOST, max(0, again - 2)))
    for here, after in itertools.pairwise(hits):
        if after["slip"] and here["moving"] and not here["praise"] + here["fault"]:
            here["slip"] = 1.0
    whole = max(1e-6, sentences[-1].end_s)
    at = [s.start_s / whole for s in sentences]
    for row, t in zip(hits, at, strict=True):
        row["listed"] *= t > LISTED_FROM
        row["retold"] *= t > LISTED_FROM and not row["turning"]
    scores = [_scores(h, t) for h, t in zip(hits, at, strict=True)]
    likeness = part_likeness([x.text for x in sentences])
    for row, like, h in zip(scores, likeness, hits, strict=True):
        weight = LIKE if _judges(h) else SILENT_LIKE
        for part in PARTS:
            row[part] += weight * like[part]
    parts = _likeliest(
        scores,
        [h["turning"] + h["opener"] + s > 0 for h, s in zip(hits, shifted(plains), strict=True)],
        [
            h["recap"] + h["listed"] + h["retold"] + h["agenda"] * (t > LISTED_FROM) > 0
            for h, t in zip(hits, at, strict=True)
        ],
    )
    parts = _conditions(parts, plains)
    texts = [s.text for s in sentences]
    likes = zip(topic_likeness(texts), topic_head(texts), strict=True)
    return [
        Remark(s, p, part, h, _balance(h), h["turning"] > 0, _plans(h, part), *like)
        for s, p, part, h, like in zip(sentences, plains, parts, hits, likes, strict=True)
    ]


def _answered(sentences: Sequence[Sentence]) -> list[Sentence]:
    """A question that the coach answers at once by yes or no is one remark with its answer."""
    made: list[Sentence] = []
    for one in sentences:
        asked = made and made[-1].text.rstrip().endswith("?")
        if asked and _YES_OR_NO.match(one.text):
            last = made.pop()
            made.append(Sentence(f"{last.text} {one.text}", last.start_s, one.end_s))
        else:
            made.append(one)
    return made


def _announced(sentences: Sequence[Sentence]) -> list[Sentence]:
    """A bare announcement ("And a drill for that.") is one remark with what it announces."""
    made: list[Sentence] = []
    for one in sentences:
        before = made[-1] if made else None
        if before and one.start_s - before.end_s <= ANNOUNCED_S and _announces(before.text):
            made[-1] = Sentence(f"{before.text} {one.text}", before.start_s, one.end_s)
        else:
            made.append(one)
    return made


def _announces(text: str) -> bool:
    plain = lexicon.plain(text)
    if not plain.words or len(plain.words) > HEADING_WORDS or imperative(plain):
        return False
    return plain.words[-1] in ("this", "that", "one") and bool(find(act("drill"), plain))


def _conditions(parts: Sequence[str], plains: Sequence[Plain]) -> list[str]:
    """Parts, where "if you ..." right behind a coaching cue or drill goes with it."""
    made = list(parts)
    for i in range(1, len(made)):
        opens = plains[i].words[:2] == ["if", "you"] and made[i] in ("keep", "change")
        if opens and made[i - 1] in ("coaching_cue", "drill"):
            made[i] = made[i - 1]
    return made


def _judges(h: dict[str, float]) -> bool:
    names = ("praise", "fault", "fix", "keep_it", "plan_keep", "plan_change", "imperative", "drill")
    return any(h[name] for name in names)


def _balance(h: dict[str, float]) -> float:
    return h["praise"] - h["fault"] - 0.7 * h["fix"]


def _plans(h: dict[str, float], part: str) -> bool:
    return part in POINT_PARTS and (h["plan_keep"] > 0 or h["plan_change"] > 0)


def _scores(h: dict[str, float], at: float) -> dict[str, float]:
    """Score of each part from the words of one sentence and its place (0-1) in the talk."""
    late = max(0.0, min(1.0, (at - 0.45) / 0.3))
    made = {
        "intro": 1.4 * h["welcome"] + 0.8 * h["agenda"] + 2.0 * max(0.0, 0.12 - at) / 0.12
        - 8 * max(0, at - 0.2),
        "background": 0.9 * h["background"] + 1.0 * h["agenda"] - 3 * max(0.0, at - 0.25),
        "keep": 0.9 * h["praise"] - 0.5 * h["fault"] + 1.8 * h["plan_keep"]
        + 0.4 * h["pointing"] + 1.6 * h["keep_it"],
        "change": 0.9 * h["fault"] - 0.5 * h["praise"] + 0.8 * h["fix"] - h["unfix"]
        + 1.8 * h["plan_change"] + 0.4 * h["pointing"],
        "coaching_cue": 1.6 * h["imperative"] + 1.0 * min(2, h["cue_say"]) + 0.4 * h["quoted"]
        + 0.5 * h["simile"]
        + 3.0 * h["head_cue"] + 1.5 * h["advises"] - 1.5 * h["points"] - 1.0 * h["moving"]
        - 1.5 * h["keep_it"] - 1.5 * h["slip"],
        "drill": 1.5 * min(2, h["drill"]) + 2.0 * h["head_drill"] + 0.5 * h["imperative"],
        "recap": 2.6 * min(1.5, h["recap"]) * (0.2 + late) - 4 * (1 - late) + 0.3 * h["praise"],
        "outro": 1.6 * h["goodbye"] - 6 * (1 - late),
        "aside": 1.6 * h["housekeeping"] + 1.2 * h["chat"] + 1.8 * h["caution"]
        + 0.8 * h["false_start"]
        + 2.5 * h["slip"],
        "advice": 2.6 * h["viewers"] + 0.8 * h["hypothetical"],
    }  # fmt: skip
    made["recap"] += 1.2 * h["agenda"] * late * (at > LISTED_FROM)
    made["recap"] += (0.5 + h["listed"]) * (h["listed"] > 0) + RETOLD * h["retold"]
    if h["contrast"] and h["fault"] > h["praise"]:
        made["change"] += 0.5
    if h["past"] and not h["still"]:
        made["keep"] += 0.3
        made["change"] -= 0.8
    silent = not h["praise"] + h["fault"] + h["keep_it"] + h["plan_keep"] + h["plan_change"]
    if silent and not h["names"]:
        made["background"] += 0.8 * (at < 0.2)
    made["background"] += 1.5 * h["past"] * (at < 0.2)
    for part in ("coaching_cue", "drill"):
        if made[part] <= 0:
            made[part] -= 0.7
    made["recap"] += 0.5 * max(0.0, *(made[part] for part in POINT_PARTS))
    if h["header"]:
        made["intro"] -= 2.0
        made["background"] -= 2.0
    if h["viewers"]:
        made["advice"] += 0.5 * h["imperative"]
    return made


def _step(before: tuple[str, str], after: tuple[str, str]) -> float:
    (was, base), (now, aim) = before, after
    if now in _INTERRUPT:
        if base != aim:
            return 30.0
        return _OUT if was == base else _STAY
    return _COST[base][now] + (_BACK if was in _INTERRUPT else 0.0)


def _likeliest(
    scores: Sequence[dict[str, float]], turns: Sequence[bool], sums: Sequence[bool]
) -> list[str]:
    """The row of parts with the most score less cost; a turn of speech makes a change cheap."""
    costs = np.array([[_step(a, b) for b in _STATES] for a in _STATES])
    same = np.array([[a[1] == b[1] for b in _STATES] for a in _STATES])
    into = np.array([[a[1] != "recap" and b[1] == "recap" for b in _STATES] for a in _STATES])
    emit = np.array([[row[s[0]] for s in _STATES] for row in scores])
    start = np.array([{"intro": 0.0, "background": 1.0}.get(s[1], 2.5) for s in _STATES])
    best = emit[0] - start
    back: list[np.ndarray[tuple[int, ...], np.dtype[np.intp]]] = []
    for row, turn, sums_up in zip(emit[1:], turns[1:], sums[1:], strict=True):
        total = (
            best[:, None] - costs - (0.5 * same if turn else 0.0) - (0.0 if sums_up else 2.5 * into)
        )
        back.append(total.argmax(axis=0))
        best = total.max(axis=0) + row
    state = int(best.argmax())
    path = [state]
    for pointers in reversed(back):
        state = int(pointers[state])
        path.append(state)
    return [_STATES[i][0] for i in reversed(path)]
