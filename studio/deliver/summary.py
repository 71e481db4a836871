"""The texts to paste under an episode: description, web post and short post."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from studio.config import Corrections, Settings
from studio.deliver import numbers, setting
from studio.deliver.advice import Item, gather
from studio.deliver.anonymous import unnamed
from studio.deliver.prose import (
    Line,
    Section,
    Wording,
    capital,
    listing,
    names_topic,
    plain,
    to_markdown,
    to_plain,
    topic,
)
from studio.deliver.spoken import lowered, sentences
from studio.model.speech import Chapter, Outline, Summary, TalkingPoint, Transcript
from studio.model.technique import Technique
from studio.timebase import clock_face

MAX_DESCRIPTION = 5000
"""Characters a video's description may hold (practice of video hosts)."""
MAX_HEAD = 150
"""Characters of a description shown before it is unfolded."""
MAX_POST = 280


def write_summary(
    outline: Outline,
    transcript: Transcript,
    technique: Technique | None,
    chapters: tuple[Chapter, ...],
    settings: Settings,
    corrections: Corrections,
) -> Summary:
    """Three texts in the coach's own manner, with the source of each sentence.

    Args:
        outline: Talking points, recording time; rejected ones are already gone.
        transcript: The talk, recording time.
        technique: Numbers from the clip; None = no numbers section.
        chapters: As they are published, program time.
        settings: Alias, consent, series.
        corrections: `summary` replaces a text as a whole.
    """
    who = setting.who(settings)
    wording = Wording(transcript, who)
    names = setting.names(settings)
    outline, transcript, chapters = unnamed(outline, transcript, chapters, settings)
    keeps, changes = gather(outline, names)
    openings = _openings(wording, keeps, changes)
    opening = openings[0]
    parts = {
        "intro": [Section("", (tuple(setting.background(transcript, outline, settings)),))],
        "address": setting.address(wording, outline),
        "keep": _keeps(wording, keeps, names),
        "change": _changes(wording, changes, names),
        "numbers": numbers.section(wording, technique, outline),
        "last": setting.priority(wording, transcript, outline, names),
        "chapters": _chapters(wording, chapters),
        "caution": setting.caution(wording, settings),
    }
    parts["intro"] = [s for s in parts["intro"] if s.paragraphs[0]]
    description = _description(opening, parts)
    title = settings.episode.title or _title(who, changes or keeps)
    markdown = to_markdown(title, [Section("", ((opening,),)), *_ordered(parts)])
    post = _post(wording, openings, changes)
    return _replaced(description, markdown, post, corrections)


_ORDER = ("intro", "address", "keep", "change", "last", "numbers", "chapters", "caution")


def _ordered(parts: dict[str, list[Section]]) -> list[Section]:
    return [section for name in _ORDER for section in parts[name]]


def _openings(wording: Wording, keeps: Sequence[Item], changes: Sequence[Item]) -> list[Line]:
    """Ways to open, each standing alone within 150 characters: most topics first."""
    changed = _topics(changes)
    kept = [t for t in _topics(keeps) if t not in changed]  # praised and faulted: not left alone
    kind = ("both" if changed else "keep") if kept else ("change" if changed else "none")
    points = [p for i in (*keeps, *changes) for p in i.named()]
    made = []
    for many, few in ((3, 3), (2, 3), (2, 2), (1, 2), (1, 1)):
        text = wording.peek(
            "opening", kind, keeps=listing(kept[:many]), changes=listing(changed[:few])
        )
        spans = tuple(_span(p) for p in points if topic(p).lower() in text.lower())
        made.append(Line(text, spans))
    return [o for o in made if len(o.text) <= MAX_HEAD] or [replace(made[-1], text=_short(text))]


def _short(text: str) -> str:
    return text if len(text) <= MAX_HEAD else text[: MAX_HEAD - 1].rsplit(" ", 1)[0] + "…"


def _topics(items: Sequence[Item]) -> list[str]:
    return list(dict.fromkeys(topic(p) for i in items for p in i.named()))


def _span(point: TalkingPoint) -> tuple[float, float]:
    return point.start_s, point.end_s


def _keeps(wording: Wording, items: Sequence[Item], names: tuple[str, ...]) -> list[Section]:
    """Two items a paragraph: praise is short."""
    lines = [_lines(wording, i, "keep", names, first=i is items[0]) for i in items]
    pairs = [lines[at : at + 2] for at in range(0, len(lines), 2)]
    paragraphs = tuple(tuple(line for one in pair for line in one) for pair in pairs)
    return [Section(wording.say("section", "keep"), paragraphs)] if paragraphs else []


def _changes(wording: Wording, items: Sequence[Item], names: tuple[str, ...]) -> list[Section]:
    paragraphs = []
    for item in items:
        lines = _lines(wording, item, "change", names, first=item is items[0])
        for kind, extras in (("cue", item.cues), ("drill", item.drills)):
            for text, point in extras:
                said = wording.say(kind, "lines", said=f"“{text}”")
                lines.append(Line(said, (_span(point),), strong=said.index("“") - 1))
        paragraphs.append(tuple(lines))
    return [Section(wording.say("section", "change"), tuple(paragraphs))] if paragraphs else []


def _lines(
    wording: Wording, item: Item, kind: str, names: tuple[str, ...], *, first: bool
) -> list[Line]:
    """The coach's sentences; the first is led in unless it names its topic itself."""
    if not item.said:
        return []
    (head, point), *rest = item.said
    if not (names_topic(head, point) or head.endswith("?")):
        key = f"{kind}_first" if first else kind
        head = wording.say("lead", key, topic=topic(point), said=lowered(head, names))
    return [Line(head, (_span(point),)), *(Line(s, (_span(p),)) for s, p in rest)]


def _chapters(wording: Wording, chapters: Sequence[Chapter]) -> list[Section]:
    if not chapters:
        return []
    hours = chapters[-1].start_s >= 3600
    lines = tuple(Line(f"{clock_face(c.start_s, hours=hours)} {c.title}") for c in chapters)
    return [Section(wording.say("section", "chapters"), (lines,), listed=True)]


def _title(who: str, items: Sequence[Item]) -> str:
    topics = [re.sub(r"^the ", "", t) for t in _topics(items)[:3]]
    return f"{capital(who)}: {listing(topics)}" if topics else capital(who)


Made = tuple[str, list[dict[str, object]]]


def _description(opening: Line, parts: dict[str, list[Section]]) -> Made:
    """Within the limit: the longest paragraphs lose their last sentences first."""
    parts = dict(parts)
    while True:
        made = to_plain([Section("", ((opening,),)), *_ordered(parts)], "description")
        if len(made[0]) <= MAX_DESCRIPTION or not _trim(parts):
            return made


def _trim(parts: dict[str, list[Section]]) -> bool:
    """Take one sentence (or the last paragraph) out of the fullest part. False = nothing left."""
    for name in ("intro", "keep", "change", "numbers", "last", "chapters"):
        for at, section in enumerate(parts[name]):
            longest = max(section.paragraphs, key=len)
            if len(longest) > 1 and name != "chapters":
                index = section.paragraphs.index(longest)
                kept = [list(p) for p in section.paragraphs]
                kept[index].pop(1)
                new = replace(section, paragraphs=tuple(tuple(p) for p in kept))
                parts[name] = [*parts[name][:at], new, *parts[name][at + 1 :]]
                return True
    for name in ("keep", "intro", "last", "numbers", "chapters", "change", "address"):
        if parts[name]:
            section = parts[name][-1]
            less = section.paragraphs[:-1]
            tail = [replace(section, paragraphs=less)] if less else []
            parts[name] = [*parts[name][:-1], *tail]
            return True
    return False


def _post(wording: Wording, openings: Sequence[Line], changes: Sequence[Item]) -> Made:
    """The first cue, whole or its first sentence, under the fullest opening it fits in with."""
    cues = [
        (part, point)
        for change in changes
        for text, point in change.cues
        for part in dict.fromkeys((text, *sentences(text)[:1]))
    ]
    for text, point in cues:
        said = plain(wording.peek("post", "change", topic=topic(point), said=f"“{text}”"))
        for opening in openings:
            head = plain(opening.text)
            if text and len(head) + len(said) < MAX_POST:
                rows = opening.rows("post", head) + Line(said, (_span(point),)).rows("post", said)
                return f"{head} {said}\n", rows
    head = plain(openings[0].text)
    return head + "\n", openings[0].rows("post", head)


def _replaced(description: Made, markdown: Made, post: Made, corrections: Corrections) -> Summary:
    """The coach's own text stands where there is one."""
    fix = corrections.summary
    texts: list[str] = []
    rows: list[dict[str, object]] = []
    for own, made, where in (
        (fix.description, description, "description"),
        (fix.markdown, markdown, "markdown"),
        (fix.post, post, "post"),
    ):
        texts.append(own or made[0])
        coach: dict[str, object] = {
            "text": own, "where": where, "span_s": None, "measure": None, "kind": "fixed",
        }  # fmt: skip
        rows += [coach] if own else made[1]
    return Summary(texts[0], texts[1], texts[2], tuple(rows))
