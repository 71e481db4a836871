"""Chapters, points and summaries of labelled talks: the kit's and those under tests/data."""

import json
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchmarks import _talks
from benchmarks._kit import parser
from studio.config import Athlete, Corrections, Settings
from studio.model.speech import Chapter, Outline, Sentence, TalkingPoint, Transcript
from studio.speech.caption_file import read_captions
from studio.speech.outline import outline

TALKS = ("talk_a", "talk_b", "talk_c", "talk_d", "tobias", "wim")
WITHIN_S, NEAR_S = 5.0, 3.0


@dataclass
class Result:
    """Figures of one talk."""

    f1: float
    phases: float
    precision: float
    recall: float
    topics: float
    must: tuple[int, int]
    said_wrongly: int


def load(kit: Path, name: str) -> tuple[dict[str, Any], Transcript]:
    """Truth and transcript of a talk; captions without punctuation come through their SRT."""
    own = _talks.FOLDER / f"{name}.talk"
    if own.is_file():
        truth = _talks.read_talk(own)
        if truth["captions"] == "typed":
            return truth, _talks.as_typed(truth)
        with tempfile.TemporaryDirectory() as folder:
            captions = Path(folder) / f"{name}.srt"
            captions.write_text(_talks.as_automatic(truth), encoding="utf-8")
            return truth, read_captions(captions)
    if name.startswith("talk"):
        truth = json.loads((kit / "talks" / f"{name}.json").read_text())
        found = _talks.keys(name)
        for ours, theirs in (("must", "summary_must"), ("not", "summary_must_not")):
            truth[ours] = list(zip(truth[theirs], found[ours], strict=True))
        if truth.get("captions") == "auto":
            return truth, read_captions(kit / "talks" / f"{name}.srt")
        rows = truth["sentences"]
    else:
        truth = json.loads((kit / f"kit_review_{name}.truth.json").read_text())
        rows = truth["talk"]
    said = tuple(Sentence(r["text"], r["start_s"], r["end_s"]) for r in rows)
    return truth, Transcript("en", (), said, name)


def pairs(found: list[float], true: list[float]) -> list[tuple[int, int]]:
    """Boundaries matched one to one, nearest first, within `WITHIN_S`."""
    near = sorted(
        (abs(a - b), i, j) for i, a in enumerate(found) for j, b in enumerate(true)
        if abs(a - b) <= WITHIN_S
    )  # fmt: skip
    made: list[tuple[int, int]] = []
    for _, i, j in near:
        if all(i != a and j != b for a, b in made):
            made.append((i, j))
    return made


def same(point: TalkingPoint, truth: dict[str, Any]) -> bool:
    """Same kind and phase, and the spans overlap or nearly so."""
    apart = max(point.start_s, truth["start_s"]) - min(point.end_s, truth["end_s"])
    alike = (point.kind, point.phase) == (truth["kind"], truth["phase"])
    return alike and bool(apart <= NEAR_S)


def summarised(made: Outline, transcript: Transcript, settings: Settings) -> str:
    """Everything that the three texts say, one below the other."""
    from studio.deliver.chapters import enforce
    from studio.deliver.summary import write_summary

    chapters = enforce(made.chapters, transcript.sentences[-1].end_s)
    told = write_summary(made, transcript, None, chapters, settings, Corrections())
    return "\n".join((told.description, told.markdown, told.post))


def judge(made: Outline, truth: dict[str, Any], summary: str) -> Result:
    """The figures of one talk. Starts at 0 are given, so F1 is over the others."""
    chapters: list[Chapter] = list(made.chapters)
    starts = [c.start_s for c in chapters[1:]]
    true = [c["start_s"] for c in truth["chapters"][1:]]
    matched = pairs(starts, true)
    f1 = 2 * len(matched) / max(1, len(starts) + len(true))
    both = [(0, 0), *((i + 1, j + 1) for i, j in matched)]
    right = sum(chapters[i].phase == truth["chapters"][j]["phase"] for i, j in both)
    hits = [[t for t in truth["points"] if same(p, t)] for p in made.points]
    found = sum(any(same(p, t) for p in made.points) for t in truth["points"])
    named = sum(
        any(p.topic in (t["topic"], *(t.get("also") or ())) for t in h)
        for p, h in zip(made.points, hits, strict=True) if h
    )  # fmt: skip
    good = sum(bool(h) for h in hits)
    return Result(
        f1, right / len(both), good / max(1, len(hits)), found / len(truth["points"]),
        named / max(1, good),
        (sum(_talks.says(summary, key) for _, key in truth.get("must", ())),
         len(truth.get("must", ()))),
        sum(_talks.says(summary, key) for _, key in truth.get("not", ())),
    )  # fmt: skip


def tell(made: Outline, truth: dict[str, Any], summary: str) -> None:
    """What was found beside the truth."""
    for c in made.chapters:
        print(f"   {c.start_s:6.1f} {c.kind}/{c.phase} {c.title}")
    for t in truth["chapters"]:
        print(f"   T {t['start_s']:6.1f} {t['kind']}/{t['phase']} {t['title']}")
    for p in made.points:
        hit = [t for t in truth["points"] if same(p, t)]
        topic = any(p.topic in (t["topic"], *(t.get("also") or ())) for t in hit)
        mark = "ok" if topic else "topic" if hit else "EXTRA"
        print(f"   {mark:5} {p.kind}/{p.phase}/{p.topic} {p.start_s:.1f} {p.text[:90]}")
    for t in truth["points"]:
        if not any(same(p, t) for p in made.points):
            print(f"   MISS  {t['kind']}/{t['phase']}/{t['topic']} {t['start_s']:.1f} {t['gist']}")
    for fact, key in truth.get("must", ()):
        if not _talks.says(summary, key):
            print(f"   UNSAID {fact}")
    for statement, key in truth.get("not", ()):
        if _talks.says(summary, key):
            print(f"   WRONG {statement}")


def mean(results: list[Result]) -> Result:
    """The mean of each figure, every talk alike; facts and false statements are summed."""
    f1, phases, precision, recall, topics = (
        sum(getattr(r, name) for r in results) / len(results)
        for name in ("f1", "phases", "precision", "recall", "topics")
    )
    must = (sum(r.must[0] for r in results), sum(r.must[1] for r in results))
    return Result(
        f1, phases, precision, recall, topics, must, sum(r.said_wrongly for r in results)
    )  # fmt: skip


def passed(whole: Result) -> dict[str, bool]:
    """The targets, held against the mean of the talks asked for."""
    return {
        "boundary F1 >= 0.8": whole.f1 >= 0.8,
        "phase right >= 0.9": whole.phases >= 0.9,
        "points: precision >= 0.8": whole.precision >= 0.8,
        "points: recall >= 0.8": whole.recall >= 0.8,
        "topic right >= 0.8": whole.topics >= 0.8,
        "facts told >= 80 %": whole.must[0] >= 0.8 * whole.must[1],
        "nothing said wrongly": whole.said_wrongly == 0,
    }


def row(name: str, r: Result) -> str:
    """One line of the table."""
    return (f"{name:10} {r.f1:11.2f} {r.phases:12.2f} {r.precision:10.2f} {r.recall:7.2f}"
            f" {r.topics:12.2f} {r.must[0]:4}/{r.must[1]} {r.said_wrongly:9}")  # fmt: skip


def main(argv: list[str]) -> int:
    """Print a row for each talk; 1 where a summary says what it must not."""
    options = parser(__doc__)
    options.add_argument("--talks", nargs="*", help="these only")
    options.add_argument("--held", action="store_true", help="the talks held back, and no other")
    options.add_argument("--tell", action="store_true", help="list what was found")
    options.add_argument("--texts", action="store_true", help="print the texts")
    args = options.parse_args(argv)
    talks = args.talks or (
        _talks.names("held") if args.held else [*TALKS, *_talks.names("develop")]
    )
    print("talk       boundary F1  phase right  precision  recall  topic right   must  must not")
    results: list[Result] = []
    for name in talks:
        truth, transcript = load(args.kit, name)
        settings = Settings(athlete=Athlete(truth.get("athlete", name.capitalize())))
        made = outline(
            transcript, playhead=None, technique=None, settings=settings,
            corrections=Corrections(),
        )  # fmt: skip
        summary = summarised(made, transcript, settings)
        r = judge(made, truth, summary)
        results.append(r)
        print(row(name, r))
        if args.tell:
            tell(made, truth, summary)
        if args.texts:
            print(summary)
    if not results:
        return 0
    whole = mean(results)
    print(row("mean", whole))
    for target, held in passed(whole).items():
        print(f"  {'ok  ' if held else 'MISS'} {target}")
    return int(whole.said_wrongly > 0)
