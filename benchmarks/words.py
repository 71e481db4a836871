"""Words and captions: error rate, rowing terms, sentence starts, speed, caption rules, parsers."""

import importlib
import importlib.util
import io
import json
import re
import resource
import time
from pathlib import Path

import numpy as np

from benchmarks._kit import parser

RECORDINGS = {
    "kit_review_tobias": ("Tobias", "Stroke Surgery", "Quillwater Rowing Club"),
    "kit_review_wim": ("Wim", "Stroke Surgery", "Quillwater Rowing Club"),
    "kit_review_1": ("Maren", "", ""),
}
"""Recording -> what its episode.toml would say: alias, series, club."""
TERMS = (
    "catch drive finish recovery stroke strokes layback lean shin shins vertical heels footplate "
    "handle height hands wrists elbows arms legs body knees slide ribs lunge compression rate "
    "rating reach pick-up rock over rocked over body over hands away drill split lats connected "
    "rowing machine forward lean stroke rate frame hips shoulders warm up length upright"
)
"""Words and phrases of the trade that the recordings may hold; phrases count word by word."""
_ONES = [
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen",
]  # fmt: skip
_TENS = ["ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_SAME = {"okay": "ok", "alright": "all right", "cm": "centimetres", "halfway": "half way",
         "pickup": "pick up", "warmup": "warm up"}  # fmt: skip


def spoken(number: str) -> str:
    """A figure as it is said."""
    whole, _, part = number.partition(".")
    value = int(whole)
    if part:
        return f"{spoken(whole)} point {' '.join(_ONES[int(d)] for d in part)}"
    if value < 20:
        return _ONES[value]
    if value < 100:
        return f"{_TENS[value // 10 - 1]} {_ONES[value % 10] if value % 10 else ''}".strip()
    return " ".join(number)


def plain(text: str) -> list[str]:
    """Words as they are compared: lower case, figures as said, no punctuation."""
    text = re.sub(
        r"\d+(?:\.\d+)?", lambda m: f" {spoken(m[0])} ", text.lower().replace("\u2019", "'")
    )
    words = re.sub(r"[^a-z' ]+", " ", text).split()
    return " ".join(_SAME.get(w, w) for w in words).split()


def truth(path: Path) -> list[tuple[str, float]]:
    """Sentences as spoken, with their true starts, recording time."""
    told = json.loads(path.read_text(encoding="utf-8"))
    if told.get("talk"):
        return [(s["text"], s["start_s"]) for s in told["talk"]]
    return [(s["text"], s["t0"]) for s in told["narration"] if "text" in s]


def aligned(reference: list[str], heard: list[str]) -> tuple[float, dict[int, int], set[int]]:
    """Word error rate, reference index -> heard index, and the reference words got right."""
    import jiwer

    found = jiwer.process_words(" ".join(reference), " ".join(heard))
    pairs: dict[int, int] = {}
    right: set[int] = set()
    for chunk in found.alignments[0]:
        if chunk.type in ("equal", "substitute"):
            for k in range(chunk.ref_end_idx - chunk.ref_start_idx):
                pairs[chunk.ref_start_idx + k] = chunk.hyp_start_idx + k
                if chunk.type == "equal":
                    right.add(chunk.ref_start_idx + k)
    return found.wer, pairs, right


def measure(kit: Path, name: str, model: str) -> dict[str, object]:
    """All figures of one recording."""
    from studio.config import About, Athlete, Corrections, Settings, SpeechSettings
    from studio.ingest.probe import probe
    from studio.progress import Quiet
    from studio.speech.caption_report import report
    from studio.speech.captions import make_cues
    from studio.speech.transcribe import transcribe

    alias, series, club = RECORDINGS[name]
    settings = Settings(
        episode=About(series=series, club=club), athlete=Athlete(alias=alias),
        speech=SpeechSettings(model),
    )  # fmt: skip
    path = kit / f"{name}.mp4"
    media = probe(path)
    began = time.process_time()
    talk = transcribe(path, media, settings, progress=Quiet())
    cpu_s = time.process_time() - began
    sentences = truth(kit / f"{name}.truth.json")
    reference = [w for text, _ in sentences for w in plain(text)]
    heard = [(w, word) for word in talk.words for w in plain(word.text)]
    wer, pairs, right = aligned(reference, [w for w, _ in heard])
    terms = set(plain(TERMS)) - {"over", "up", "away"}
    wanted = [i for i, w in enumerate(reference) if w in terms]
    starts, at = [], 0
    for text, start in sentences:
        if at in pairs:
            starts.append(abs(heard[pairs[at]][1].start_s - start))
        at += len(plain(text))
    cues = make_cues(talk, settings, Corrections())
    told = report(cues, max_chars=settings.captions.max_chars, words=talk.words)
    return {
        "recording": name, "words": len(reference), "wer_percent": 100 * wer,
        "terms_percent": 100 * sum(i in right for i in wanted) / len(wanted), "terms": len(wanted),
        "start_median_s": float(np.median(starts)), "start_p95_s": float(np.percentile(starts, 95)),
        "starts": len(starts), "sentences": len(sentences),
        "audio_s_per_cpu_s": float(media.duration_s) / cpu_s,
        "repairs": [f"{r.heard} -> {r.text}" for r in talk.repairs],
        "captions": told["captions"],
        "broken": [
            f"{r['rule']} at {w['start_s']:.1f} s: {w['value']}"
            for r in told["rules"] for w in r["where"] if not w["unavoidable"]
        ],
        "rules": {r["rule"]: (r["breaking"], r["unavoidable"])
                                                for r in told["rules"]},
        "parsers_agree": parsers_agree(cues),
    }  # fmt: skip


def parsers_agree(cues) -> bool:
    """Whether pysubs2 and webvtt-py read the same times and words from both files."""
    import pysubs2
    import webvtt

    from studio.deliver.subtitles import to_srt, to_vtt

    srt = pysubs2.SSAFile.from_string(to_srt(cues), format_="srt")
    vtt = pysubs2.SSAFile.from_string(to_vtt(cues), format_="vtt")
    other = list(webvtt.from_buffer(io.StringIO(to_vtt(cues))))
    rows = [(e.start, e.end, e.plaintext.split()) for e in srt]
    mine = [(c.start_ms, c.end_ms, " ".join(c.lines).split()) for c in cues]
    return (
        rows == mine
        and rows == [(e.start, e.end, e.plaintext.split()) for e in vtt]
        and rows == [(_ms(c.start), _ms(c.end), c.text.split()) for c in other]
    )


def _ms(stamp: str) -> int:
    hours, minutes, seconds = stamp.split(":")
    return 3_600_000 * int(hours) + 60_000 * int(minutes) + round(1000 * float(seconds))


def passed(row: dict, model: str) -> dict[str, bool]:
    """The targets; the kit's fast synthetic voices may only break the speed rules unavoidably."""
    return {
        "word error rate <= 2 %": row["wer_percent"] <= 2,
        "rowing terms >= 98 %": row["terms_percent"] >= 98,
        "sentence starts: median <= 0.05 s": row["start_median_s"] <= 0.05,
        "sentence starts: p95 <= 0.12 s": row["start_p95_s"] <= 0.12,
        f"{model}: >= 5 audio s per CPU-s": row["audio_s_per_cpu_s"] >= 5,
        "caption rules": all(broken == excused for broken, excused in row["rules"].values()),
        "parsers agree": bool(row["parsers_agree"]),
    }


def main(argv: list[str]) -> int:
    """Print the figures; 1 where a target is missed."""
    options = parser(__doc__ or "")
    options.add_argument("--model", default="base")
    options.add_argument("--only", choices=["words", "outline"], help="one half of the benchmark")
    chosen = options.parse_args(argv)
    good = True
    if chosen.only != "outline":
        for name in RECORDINGS:
            row = measure(chosen.kit, name, chosen.model)
            told = passed(row, chosen.model)
            good &= all(told.values())
            for key, value in row.items():
                print(f"  {key:<18} {value:.3f}" if isinstance(value, float) else
                      f"  {key:<18} {value}")  # fmt: skip
            for target, held in told.items():
                print(f"  {'ok  ' if held else 'MISS'} {target}")
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"peak memory {peak:.0f} MB")
    if chosen.only != "words" and importlib.util.find_spec("benchmarks.outline"):
        good &= importlib.import_module("benchmarks.outline").main(["--kit", str(chosen.kit)]) == 0
    return 0 if good else 1
