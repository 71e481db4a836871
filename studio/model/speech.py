"""What the coach says: words, cues, chapters, talking points."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Word:
    """One word with its punctuation; recording time."""

    text: str
    start_s: float
    end_s: float
    probability: float


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence; recording time (or the caption file's own clock)."""

    text: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Repair:
    """A misheard term put right, kept visible: what was heard, what stands now, recording time."""

    heard: str
    text: str
    start_s: float


@dataclass(frozen=True, slots=True)
class Transcript:
    """All that was said, in order.

    Attributes:
        language: BCP 47.
        words: Empty where the words came from a caption file without word times.
        sentences: Never overlap.
        source: Model and options, or the caption file's name.
        repairs: Terms put right by the glossary.
        doubtful: Stretches where a voice was heard and no words came, and low-confidence words.
    """

    language: str
    words: tuple[Word, ...]
    sentences: tuple[Sentence, ...]
    source: str
    repairs: tuple[Repair, ...] = ()
    doubtful: tuple[Sentence, ...] = ()


@dataclass(frozen=True, slots=True)
class Cue:
    """One caption on screen: whole milliseconds of program time, end > start, 1-2 lines."""

    start_ms: int
    end_ms: int
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chapter:
    """One chapter; the owner says which clock (recording in an outline, program in a plan).

    `kind` is "intro", "background", "keep", "change", "recap", "outro" or None.
    """

    start_s: float
    end_s: float
    title: str
    phase: str | None
    kind: str | None


@dataclass(frozen=True, slots=True)
class TalkingPoint:
    """One point of the review as spoken; recording time.

    Attributes:
        kind: "keep", "change", "coaching_cue" or "drill".
        phase: One of `studio.model.technique.PHASES`, or None for the whole stroke.
        topic: A topic word of the trade.
        text: The coach's words, cleaned of fillers and false starts.
        start_s: Of the span that carries it.
        end_s: Of the span that carries it.
        measure: Name of the measure that speaks to it; empty = none.
        agrees: True when the measure backs it, False when it contradicts, None when silent.
    """

    kind: str
    phase: str | None
    topic: str
    text: str
    start_s: float
    end_s: float
    measure: str = ""
    agrees: bool | None = None


@dataclass(frozen=True, slots=True)
class Outline:
    """The shape of the talk: chapters and talking points on the recording's clock."""

    chapters: tuple[Chapter, ...]
    points: tuple[TalkingPoint, ...]
    notices: tuple[str, ...] = field(default=())


@dataclass(frozen=True, slots=True)
class Summary:
    """Three texts to paste, and where each sentence of them comes from.

    `sources` rows: {"text", "where": "description"|"markdown"|"post", "span_s": [start, end] or
    None, "measure": name or None, "kind": "talk"|"measure"|"fixed"}; recording time.
    """

    description: str
    markdown: str
    post: str
    sources: tuple[dict[str, object], ...] = ()
