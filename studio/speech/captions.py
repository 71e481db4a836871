"""Words to captions by the BBC Subtitle Guidelines; the coach's own corrections come last."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

from studio.config import CaptionFix, Corrections, Settings
from studio.model.speech import Cue, Transcript, Word
from studio.speech import breaks, cue_times
from studio.speech.caption_fixes import Group, groups
from studio.speech.cue_times import Spoken
from studio.speech.glossary import apply_fixes
from studio.speech.numbers import figures
from studio.speech.sentences import ends_sentence, spread, words_of


def make_cues(
    transcript: Transcript, settings: Settings, corrections: Corrections
) -> tuple[Cue, ...]:
    """Captions of a transcript, ms of recording time (or of the caption file's own clock).

    At most two lines of `settings.captions.max_chars`; timed by `studio.speech.cue_times`; broken
    by `studio.speech.breaks`. `corrections.words` and then `corrections.captions` are applied.
    """
    fixed = apply_fixes(transcript, corrections.words)
    words = figures(_split_long(words_of(fixed.words, fixed.sentences), settings))
    groups = partition(words, settings.captions.max_chars)
    cues = timed(groups, settings.captions.max_chars)
    return with_fixes(cues, corrections.captions, settings.captions.max_chars)


def _split_long(words: Sequence[Word], settings: Settings) -> list[Word]:
    """Cut a "word" too long for a line (a web address, a damaged file) into pieces that fit."""
    most = settings.captions.max_chars
    made: list[Word] = []
    for word in words:
        pieces = [word.text[k : k + most] for k in range(0, len(word.text), most)]
        share = (word.end_s - word.start_s) / max(1, len(pieces))
        for k, piece in enumerate(pieces):
            at = word.start_s + k * share
            made.append(word if len(pieces) == 1 else Word(piece, at, at + share, word.probability))
    return made


def partition(words: Sequence[Word], max_chars: int) -> list[list[Word]]:
    """The words of each caption: the cheapest cut of the whole talk, by dynamic programming."""
    best: list[tuple[float, int]] = [(0.0, 0)] + [(math.inf, 0)] * len(words)
    for i in range(len(words)):
        if best[i][0] == math.inf:
            continue
        chars = -1
        for j in range(i + 1, len(words) + 1):
            chars += len(words[j - 1].text) + 1
            if chars > breaks.MAX_LINES * max_chars + 1:
                break
            price = best[i][0] + _cost(words, i, j, max_chars)
            if price < best[j][0]:
                best[j] = (price, i)
    cuts = [len(words)]
    while cuts[-1]:
        cuts.append(best[cuts[-1]][1])
    cuts.reverse()
    return [list(words[a:b]) for a, b in itertools.pairwise(cuts)]


def _cost(words: Sequence[Word], i: int, j: int, max_chars: int) -> float:
    """What the caption of words i to j (exclusive) costs; infinite where it does not fit."""
    run = words[i:j]
    lines, _ = breaks.lay_out([w.text for w in run], max_chars)
    if lines == math.inf:
        return math.inf
    price = 1.0 + lines
    if j < len(words):
        price += 1.5 * breaks.cost(run[-1].text, words[j].text)
    for a, b in itertools.pairwise(run):
        pause = b.start_s - a.end_s
        price += 1.2 * ends_sentence(a.text)  # one sentence a caption where possible
        price += 3 * max(0.0, pause - 0.6) + (50 if pause >= 2 else 0)
    spoken = _spoken(run)
    follows = words[j].start_s if j < len(words) else run[-1].end_s + 5
    gap = round(1000 * (follows - run[-1].end_s))
    room = gap if gap < 1000 else min(cue_times.SLACK_MS, gap - 700)
    short = spoken.reading_ms - (spoken.end_ms - spoken.start_ms) - max(0, room)
    long = spoken.end_ms - spoken.start_ms - cue_times.LONGEST_MS
    return price + 6 * max(0, short) / 1000 + 50 * max(0, long) / 1000


def _spoken(run: Sequence[Word]) -> Spoken:
    return Spoken(
        round(1000 * run[0].start_s),
        max(round(1000 * run[-1].end_s), round(1000 * run[0].start_s) + 1),
        len(run),
        len(" ".join(w.text for w in run)),
    )


def timed(groups: Sequence[Sequence[Word]], max_chars: int) -> list[Cue]:
    """Captions of the groups, with lines and times."""
    when = cue_times.times([_spoken(group) for group in groups])
    return [
        Cue(start, end, breaks.lay_out([w.text for w in group], max_chars)[1])
        for group, (start, end) in zip(groups, when, strict=True)
    ]


def with_fixes(cues: Sequence[Cue], fixes: Sequence[CaptionFix], max_chars: int) -> tuple[Cue, ...]:
    """Captions with the coach's corrections; each is found by the start of the caption as made.

    The coach's own times stand; neighbours give way.
    """
    made: list[Cue] = []
    for group in groups(cues, fixes):
        made += group.cues if group.fixes == (None,) else _relaid(group, max_chars)
    return _apart(made)


def _relaid(group: Group, max_chars: int) -> list[Cue]:
    """Captions of corrected texts that share a stretch; a text too long for one takes several."""
    cues: list[Cue] = []
    parts = group.parts
    total = sum(len(part) + 1 for part in parts)
    at = 0
    for part in parts:
        begins = group.at_ms(at / total, ends=False)
        at += len(part) + 1
        ends = max(group.at_ms(at / total, ends=True), begins + 1)
        laid = spread(part, begins / 1000, ends / 1000)
        fits = breaks.lay_out(part.split(), max_chars)[1]
        words = [laid] if fits else partition(laid, max_chars)
        edges = [*(round(1000 * group[0].start_s) for group in words), round(ends)]
        cues += [
            Cue(a, max(b, a + 1), breaks.lay_out([w.text for w in run], max_chars)[1])
            for run, a, b in zip(words, edges, edges[1:], strict=False)
        ]
    return cues


def _apart(cues: Sequence[Cue]) -> tuple[Cue, ...]:
    """Captions in order that do not overlap; one with no time left gives way to the next."""
    ordered = sorted((c for c in cues if c.lines), key=lambda c: (c.start_ms, c.end_ms))
    made: list[Cue] = []
    for cue in ordered:
        if made and made[-1].end_ms > cue.start_ms:
            made[-1] = replace(made[-1], end_ms=cue.start_ms)
            if made[-1].end_ms <= made[-1].start_ms:
                made.pop()
        made.append(cue)
    return tuple(made)
