"""What kinds of words a sentence holds: praise, fault, order, drill, caution, ... and how often."""

from __future__ import annotations

import re
from collections.abc import Sequence

from studio.model.technique import PHASES
from studio.speech import lexicon
from studio.speech.lexicon import Plain, act, find, negated, verbs

PAST = 0.3
"""What a fault counts that the coach places in an earlier clip."""
BETTER = 0.7
"""Praise in setting today against an earlier clip without a word of judgement."""
OTHERS = 0.5
"""What a fault counts in a sentence that speaks to viewers, or of what would be."""
HEADING_WORDS = 5
"""A heading is no longer than this."""
RUN_ON_WORDS = 8
"""A sentence this long without a pause mark may hold several (automatic captions)."""
MOST = 3
"""More hits than this of one kind of words say nothing new."""
_QUOTE = re.compile(r"[\"\u201c\u2018].+[\"\u201d\u2019]|: ")
_ENOUGH_YES = re.compile(
    r"\b(?:enough|right|good|level)\b[^?]*\?\s*(?:yes|yeah|yep)\b", re.IGNORECASE
)
_ANSWERED_NO = re.compile(r"\?\s*(?:no|nope|never|not at all)\b", re.IGNORECASE)
_NO_DOING = re.compile(r"\b(?:no|not|without) (?!go|be|com|do|us)\w{3,}ing\b")
""""No pinching", "without leaning": most doings that a coach says are absent are faults."""
_HEAD = re.compile(r"^(?:the |a |my |your )?(?:\w+ )?(cue|drill|exercise)\b")

_NUMBERS = frozenset(["one", "two", "three", "four", "five", "six", "seven", "1", "2", "3", "4"])
_BEFORE_HEADING = _NUMBERS | frozenset([
    "the", "at", "in", "on", "so", "now", "and", "then", "next", "okay", "right", "well", "also",
    "first", "second", "third", "last", "point", "number", "part", "step", "position",
])  # fmt: skip
_JOINS = frozenset(["and", "so", "then", "try", "now", "just", "but"])
_SUBJECTS = frozenset(["i", "you", "he", "she", "it", "we", "they", "that", "not"])
_ALSO_NOUNS = frozenset([
    "catch", "drive", "finish", "slide", "swing", "reach", "row", "load", "lay", "press", "pull",
    "push", "rest", "roll", "rock", "start", "step", "stretch", "use", "work", "count", "draw",
    "lift", "drop", "point", "lean",
])  # fmt: skip
_AFTER_VERB = frozenset([
    "the", "your", "it", "them", "with", "through", "at", "past", "out", "up", "down", "back",
    "forward", "away", "from", "to", "a", "those", "both", "one", "two", "three", "ten", "five",
    "off", "on", "into", "over", "and", "less", "more", "all", "that", "for", "in", "until",
    "every",
])  # fmt: skip


def count(sentence: Plain, text: str = "") -> dict[str, float]:
    """How often each kind of words occurs, at most `MOST` times each; negation heeded."""
    made: dict[str, float] = {}
    for name in lexicon.table()["act"]:
        made[name] = float(min(MOST, len(find(act(name), sentence))))
    praise, unpraise = _signed(sentence, "praise")
    fault, unfault = _signed(sentence, "fault")
    fix, unfix = _signed(sentence, "fix")
    plan, unplan = _signed(sentence, "plan_keep")
    made["plan_keep"], made["plan_change"] = float(plan), made["plan_change"] + unplan
    made["praise"] = min(MOST, praise + 1.5 * unfault + 2.0 * unfix)
    made["fault"] = min(MOST, fault + unpraise)
    made["fix"] = min(MOST, fix)
    if made["past"] and not made["still"]:
        if made["now"] and not made["praise"] + made["fault"]:
            made["praise"] = BETTER
        made["praise"] = min(MOST, made["praise"] + 0.7 * made["fault"] * (made["now"] > 0))
        made["fault"] *= PAST
        made["praise"] *= 1.0 if made["now"] else PAST
    if made["viewers"] or sentence.words[:1] == ["if"]:
        made["fault"] *= OTHERS
        made["fix"] *= OTHERS
    made["praise"] = min(MOST, made["praise"] + len(_NO_DOING.findall(sentence.text)))
    made["unfix"] = float(unfix + unfault)
    made["header"] = float(_header(sentence, "?" in text or made["turning"] + made["opener"] > 0))
    if made["header"]:
        made["turning"] = max(made["turning"], 1.0)
    made["imperative"] = imperative(sentence)
    made["advises"] = float(_advises(sentence))
    made["quoted"] = float(bool(_QUOTE.search(text)))
    made["points"] = float(bool(sentence.words) and sentence.words[0] in verbs("showing"))
    _settle(made, sentence, text)
    made["names"] = float(_names(sentence))
    head = _HEAD.match(re.sub(r"^(?:(?:so|and|now|okay|right|here is) )+", "", sentence.text))
    made["head_cue"] = float(bool(head) and head is not None and head[1] == "cue")
    made["head_drill"] = float(bool(head) and head is not None and head[1] != "cue")
    return made


def _settle(made: dict[str, float], sentence: Plain, text: str) -> None:
    """Counts put right by what the sentence is as a whole: a question, a move, a heading."""
    if _ANSWERED_NO.search(text):
        made["praise"] = min(MOST, made["praise"] + 1.5 * made["fault"])
        made["fault"] = 0.0
    if _ENOUGH_YES.search(text):
        made["praise"] = min(MOST, made["praise"] + 1.0)
    if made["moving"]:
        made["praise"] *= 0.3
        made["imperative"] = float(int(made["imperative"]))
    if made["header"] and len(sentence.words) <= HEADING_WORDS:
        made["fault"] = made["drill"] = 0.0
    if made["drill"] == 1 and not made["imperative"]:
        made["drill"] = 0.5


def _header(sentence: Plain, opens: bool) -> bool:
    """Whether it is like a heading: "Catch, stroke two.", "So, the lunge."."""
    words = sentence.words
    if not words:
        return False
    if _phase_heading(sentence):
        return True
    return opens and len(words) <= HEADING_WORDS and _names(sentence)


def _phase_heading(sentence: Plain) -> bool:
    """Whether it opens with a bare phase: "Release. ...", "Point two, the drive."."""
    words = sentence.words
    named = [w for p in PHASES for w in find(lexicon.phase_words(p), sentence)]
    covered = {i for a, b in named for i in range(a, b)}
    for i, word in enumerate(words[:HEADING_WORDS]):
        if i not in covered and word not in _BEFORE_HEADING:
            return False
        if i in covered and (i in sentence.breaks or i == len(words) - 1):
            return True
    return False


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


def imperative(sentence: Plain) -> float:
    """1 where a verb of doing opens the sentence, 0.6 where it opens a later clause."""
    words = sentence.words
    openers = {"so", "and", "then", "now", "just", "okay", "ok", "right", "well", "please", "next",
               "cue", "drill", "or", "instead", "also", "but", "always", "simply"}  # fmt: skip
    found = 0.0
    begins = [0, *(b + 1 for b in sorted(sentence.breaks) if b + 1 < len(words))]
    if len(begins) == 1 and len(words) >= RUN_ON_WORDS:
        begins += [i + 1 for i, w in enumerate(words[:-2])
                   if w in _JOINS and i > 0 and words[i - 1] not in _SUBJECTS]  # fmt: skip
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
    if verb in ("point", "step") and rest[0] in _NUMBERS:
        return True
    if verb == "put":
        return "together" in rest[:3]
    return verb in _ALSO_NOUNS and (pause or rest[0] not in _AFTER_VERB)
