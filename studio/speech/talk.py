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
from studio.model.technique import PHASES
from studio.speech import lexicon
from studio.speech.lexicon import Plain, act, find, negated, verbs
from studio.speech.likeness import part_likeness

PARTS = (
    "intro", "background", "keep", "change", "coaching_cue", "drill", "recap", "outro", "aside",
    "advice",
)  # fmt: skip
POINT_PARTS = ("keep", "change", "coaching_cue", "drill")
PAST = 0.3
"""What a fault counts that the coach places in an earlier clip."""
LISTED_FROM = 0.75
"""Topics named again sooner than this share of the talk are no recap of it."""
LIKE = 5.0
"""Weight of the encoder: its usual lead of 0.1 to 0.2 counts as half a word that speaks for it."""
HEADING_WORDS = 5
"""A heading is no longer than this."""
ANNOUNCED_S = 2.0
"""What is announced follows within a breath."""
RUN_ON_WORDS = 8
"""A sentence this long without a pause mark may hold several (automatic captions)."""
MOST = 3
"""More hits than this of one kind of words say nothing new."""
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
_QUOTE = re.compile(r"[\"\u201c\u2018].+[\"\u201d\u2019]|: ")
_YES_OR_NO = re.compile(r"(?:yes|yeah|yep|no|nope|never|not at all)\b", re.IGNORECASE)
_ENOUGH_YES = re.compile(
    r"\b(?:enough|right|good|level)\b[^?]*\?\s*(?:yes|yeah|yep)\b", re.IGNORECASE
)
_ANSWERED_NO = re.compile(r"\?\s*(?:no|nope|never|not at all)\b", re.IGNORECASE)
_HEAD = re.compile(r"^(?:the |a |my |your )?(?:\w+ )?(cue|drill|exercise)\b")

_JOINS = frozenset(["and", "so", "then", "try", "now", "just", "but"])
_ALSO_NOUNS = frozenset(["catch", "drive", "finish", "slide", "swing", "reach", "row", "load",
                         "lay", "press", "pull", "push", "rest", "roll", "rock", "start", "step",
                         "stretch", "use", "work", "count", "draw", "lift", "drop", "point",
                         "lean"])  # fmt: skip
_AFTER_VERB = frozenset(["the", "your", "it", "them", "with", "through", "at", "past", "out", "up",
                         "down", "back", "forward", "away", "from", "to", "a", "those", "both",
                         "one", "two", "three", "ten", "five", "off", "on", "into", "over", "and",
                         "less", "more", "all", "that", "for", "in", "until", "every"])  # fmt: skip


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
    """

    sentence: Sentence
    plain: Plain
    part: str
    hits: dict[str, float] = field(default_factory=dict)
    praise: float = 0.0
    turns: bool = False
    plans: bool = False


def read(sentences: Sequence[Sentence]) -> list[Remark]:
    """Every sentence with its part; same clock as the sentences."""
    if not sentences:
        return []
    sentences = _announced(_answered(sentences))
    plains = [lexicon.plain(s.text) for s in sentences]
    hits = [count(p, s.text) for p, s in zip(plains, sentences, strict=True)]
    for row, listed in zip(hits, _listed(plains), strict=True):
        row["listed"] = 0.0 if row["viewers"] or row["drill"] else listed
    for here, after in itertools.pairwise(hits):
        if after["slip"] and here["moving"] and not here["praise"] + here["fault"]:
            here["slip"] = 1.0
    whole = max(1e-6, sentences[-1].end_s)
    at = [s.start_s / whole for s in sentences]
    for row, t in zip(hits, at, strict=True):
        row["listed"] *= t > LISTED_FROM
    scores = [_scores(h, t) for h, t in zip(hits, at, strict=True)]
    for row, like in zip(scores, part_likeness([x.text for x in sentences]), strict=True):
        for part in PARTS:
            row[part] += LIKE * like[part]
    parts = _likeliest(
        scores,
        [h["turning"] + h["opener"] > 0 for h in hits],
        [
            h["recap"] + h["listed"] + h["agenda"] * (t > LISTED_FROM) > 0
            for h, t in zip(hits, at, strict=True)
        ],
    )
    return [
        Remark(s, p, part, h, _balance(h), h["turning"] > 0, _plans(h, part))
        for s, p, part, h in zip(sentences, plains, parts, hits, strict=True)
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
    if not plain.words or len(plain.words) > HEADING_WORDS or _imperative(plain):
        return False
    return plain.words[-1] in ("this", "that", "one") and bool(find(act("drill"), plain))


def count(sentence: Plain, text: str = "") -> dict[str, float]:
    """How often each kind of words occurs, at most `MOST` times each; negation heeded."""
    made: dict[str, float] = {}
    for name in lexicon.table()["act"]:
        made[name] = float(min(MOST, len(find(act(name), sentence))))
    praise, unpraise = _signed(sentence, "praise")
    fault, unfault = _signed(sentence, "fault")
    fix, unfix = _signed(sentence, "fix")
    made["praise"] = min(MOST, praise + 1.5 * unfault + 2.0 * unfix)
    made["fault"] = min(MOST, fault + unpraise)
    made["fix"] = min(MOST, fix)
    if made["past"] and not made["still"]:
        made["praise"] = min(MOST, made["praise"] + 0.7 * made["fault"] * (made["now"] > 0))
        made["fault"] *= PAST
    made["unfix"] = float(unfix + unfault)
    made["header"] = float(_header(sentence, "?" in text or made["turning"] + made["opener"] > 0))
    if made["header"]:
        made["turning"] = max(made["turning"], 1.0)
    made["imperative"] = _imperative(sentence)
    made["advises"] = float(_advises(sentence))
    made["quoted"] = float(bool(_QUOTE.search(text)))
    made["points"] = float(bool(sentence.words) and sentence.words[0] in verbs("showing"))
    if _ANSWERED_NO.search(text):
        made["praise"] = min(MOST, made["praise"] + 1.5 * made["fault"])
        made["fault"] = 0.0
    if _ENOUGH_YES.search(text):
        made["praise"] = min(MOST, made["praise"] + 1.0)
    if made["moving"]:
        made["praise"] *= 0.3
        made["imperative"] = float(int(made["imperative"]))
    if made["header"] and len(sentence.words) <= HEADING_WORDS:
        made["fault"] = 0.0
    if made["drill"] == 1 and not made["imperative"]:
        made["drill"] = 0.5
    made["names"] = float(_names(sentence))
    head = _HEAD.match(re.sub(r"^(?:(?:so|and|now|okay|right|here is) )+", "", sentence.text))
    made["head_cue"] = float(bool(head) and head is not None and head[1] == "cue")
    made["head_drill"] = float(bool(head) and head is not None and head[1] != "cue")
    return made


def _header(sentence: Plain, opens: bool) -> bool:
    """Whether it is like a heading: "Catch, stroke two.", "So, the lunge."."""
    words = sentence.words
    if not words:
        return False
    if words[0] in PHASES and (0 in sentence.breaks or len(words) == 1):
        return True
    return opens and len(words) <= HEADING_WORDS and _names(sentence)


def _names(sentence: Plain) -> bool:
    """Whether it names anything of the stroke: a phase, or a topic by any of its words."""
    return any(find(lexicon.phase_words(p), sentence) for p in PHASES) or any(
        find(lexicon.topic_words(t, strength), sentence)
        for t in lexicon.topics()
        for strength in ("sure", "likely", "hint")
    )


def _signed(sentence: Plain, name: str) -> tuple[int, int]:
    found = find(act(name), sentence)
    turned = sum(negated(sentence, where) for where in found)
    return len(found) - turned, turned


def _imperative(sentence: Plain) -> float:
    """1 where a verb of doing opens the sentence, 0.6 where it opens a later clause."""
    words = sentence.words
    openers = {"so", "and", "then", "now", "just", "okay", "ok", "right", "well", "please", "next",
               "cue", "drill", "or", "instead", "also", "but", "always", "simply"}  # fmt: skip
    found = 0.0
    begins = [0, *(b + 1 for b in sorted(sentence.breaks) if b + 1 < len(words))]
    if len(begins) == 1 and len(words) >= RUN_ON_WORDS:
        begins += [i + 1 for i, w in enumerate(words[:-2]) if w in _JOINS and i > 0]
    for number, i in enumerate(begins):
        while i < len(words) - 1 and words[i] in openers:
            i += 1
        if i >= len(words) - 1 or words[i] not in verbs("imperative"):
            continue
        if _no_order(words[i], words[i + 1 :], i in sentence.breaks):
            continue
        found = max(found, 1.0 if number == 0 else 0.6)
    return found


def _advises(sentence: Plain) -> bool:
    """Whether it says "I would stop here", but not "I would say"."""
    words = sentence.words
    for i in range(len(words) - 2):
        if words[i] in ("i", "we") and words[i + 1] == "would":
            verb = words[i + 2]
            if verb in verbs("imperative") and verb not in verbs("opinion"):
                return True
    return False


def _no_order(verb: str, rest: Sequence[str], pause: bool) -> bool:
    """Whether what looks like an order is none: "let me", "put those together", "drive length"."""
    if verb == "let":
        return rest[0] in ("me", "us")
    if verb in ("do", "be", "have"):
        return rest[0] in ("you", "they", "we", "i", "these", "those")
    if verb == "put":
        return "together" in rest[:3]
    return verb in _ALSO_NOUNS and (pause or rest[0] not in _AFTER_VERB)


def _balance(h: dict[str, float]) -> float:
    return h["praise"] - h["fault"] - 0.7 * h["fix"]


def _plans(h: dict[str, float], part: str) -> bool:
    return part in POINT_PARTS and (h["plan_keep"] > 0 or h["plan_change"] > 0)


def _listed(plains: Sequence[Plain]) -> list[float]:
    """How many topics beyond one each sentence names that were spoken of before: going over."""
    made: list[float] = []
    seen: list[set[str]] = []
    for sentence in plains:
        own = {t for t in lexicon.topics() if find(lexicon.topic_words(t, "sure"), sentence)}
        told = {t for t in lexicon.topics() if find(lexicon.topic_words(t, "likely"), sentence)}
        known = set().union(*seen[:-2]) if len(seen) > 2 else set()
        made.append(float(max(0, len(own & known) - 1)))
        seen.append(own | told)
    return made


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
        "aside": 1.6 * h["housekeeping"] + 0.7 * h["chat"] + 1.0 * h["caution"]
        + 0.8 * h["false_start"]
        + 2.5 * h["slip"],
        "advice": 2.2 * h["viewers"] + 0.8 * h["hypothetical"],
    }  # fmt: skip
    made["recap"] += 1.2 * h["agenda"] * late * (at > LISTED_FROM)
    made["recap"] += (0.5 + h["listed"]) * (h["listed"] > 0)
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
