"""`report.html`: what was found and decided, on one page that needs nothing else."""

from __future__ import annotations

import base64
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from importlib.resources import files
from pathlib import Path

import cv2

from studio.config import Settings
from studio.model.media import MediaFile
from studio.model.plan import EditPlan
from studio.model.playhead import Playhead
from studio.model.speech import Outline, Transcript
from studio.model.technique import Finding, Measure, Technique
from studio.speech import caption_report
from studio.store import write_text
from studio.timebase import clock_face

PICTURE_PX = 960
"""Widest a picture inside the page is: sharp on a phone, small in the file."""
UNITS = {"deg": "°", "s": " s", "spm": " spm", "cm": " cm", "share": "", "ratio": ""}
WORDS = {"keep": "Keep", "change": "Change"}
SAFETY = (
    "The figures describe what the camera saw; they are no diagnosis and no measure of health. "
    "With pain, tingling or a creaking wrist, stop and see a doctor or physiotherapist, and let a "
    "licensed coach decide on training."
)


def write_report(
    out: Path,
    plan: EditPlan,
    *,
    settings: Settings,
    technique: Technique | None = None,
    outline: Outline | None = None,
    transcript: Transcript | None = None,
    playhead: Playhead | None = None,
    recording: MediaFile | None = None,
    clip: MediaFile | None = None,
    stills: Sequence[Path] = (),
    rendered: Mapping[str, object] | None = None,
) -> Path:
    """Write the report.

    Args:
        out: The HTML file.
        plan: The edit plan.
        settings: `episode.toml`.
        technique: What the clip shows.
        outline: Talking points, and what was decided about them.
        transcript: For repaired and doubtful words.
        playhead: For its notices.
        recording: For its notices.
        clip: For its notices.
        stills: Pictures to show; they are put into the page.
        rendered: What `write_sound` told.

    Raises:
        OutputError: Cannot write.
    """
    told = [
        *(f"Recording: {n}" for n in _notices(recording)),
        *(f"Clip: {n}" for n in _notices(clip)),
        *(technique.view.warnings if technique else ()),
        *(n for part in (technique, playhead, outline) for n in _notices(part)),
    ]
    parts = [
        _pictures(stills),
        _section("What was found", _list(told) or _text("Nothing out of the ordinary.")),
        _section("Measures", _measures(technique)),
        _section("Findings", _findings(technique)),
        _section("What was decided", _list(plan.notices) + _holds(plan) + _sound(rendered)),
        _section("Chapters", _chapters(plan)),
        _section("Captions", _captions(plan, settings, transcript)),
    ]
    write_text(out, _page(plan, settings, "\n".join(part for part in parts if part)))
    return out


def _page(plan: EditPlan, settings: Settings, body: str) -> str:
    about = settings.episode
    who = [about.series, about.club, settings.athlete.alias, f"{clock_face(plan.duration_s)} min"]
    page = files("studio.deliver").joinpath("report.html").read_text(encoding="utf-8")
    return page.format(
        language=escape(about.language),
        title=escape(about.title or about.series or "Episode"),
        subtitle=escape(" · ".join(part for part in who if part)),
        body=body,
    )


def _notices(part: MediaFile | Technique | Playhead | Outline | None) -> tuple[str, ...]:
    return part.notices if part is not None else ()


def _section(title: str, body: str) -> str:
    return f"<section>\n<h2>{escape(title)}</h2>\n{body}\n</section>" if body else ""


def _text(text: str, kind: str = "") -> str:
    mark = f' class="{kind}"' if kind else ""
    return f"<p{mark}>{escape(text)}</p>" if text else ""


def _list(lines: Iterable[str]) -> str:
    items = "".join(f"<li>{escape(line)}</li>" for line in lines if line)
    return f"<ul>{items}</ul>" if items else ""


def _table(head: Sequence[tuple[str, bool]], rows: Iterable[Sequence[str]]) -> str:
    """`head`: each column's name and whether it holds numbers."""
    marks = [' class="n"' if number else "" for _, number in head]
    top = "".join(
        f'<th scope="col"{mark}>{escape(name)}</th>'
        for (name, _), mark in zip(head, marks, strict=True)
    )
    body = "".join(
        "<tr>"
        + "".join(f"<td{m}>{escape(v)}</td>" for v, m in zip(row, marks, strict=True))
        + "</tr>"
        for row in rows
    )
    return (
        f'<div class="wide"><table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table></div>'
    )


def _pictures(stills: Sequence[Path]) -> str:
    names = {
        "catch": "The catch, with its angles",
        "finish": "The finish, with its angles",
        "strokes": "The same moment of two strokes",
    }
    figures = []
    for path in stills:
        image = cv2.imread(str(path)) if path.stem in names else None
        if image is None:
            continue
        height = round(image.shape[0] * PICTURE_PX / image.shape[1])
        small = cv2.resize(image, (PICTURE_PX, height), interpolation=cv2.INTER_AREA)
        data = cv2.imencode(".jpg", small, [cv2.IMWRITE_JPEG_QUALITY, 85])[1].tobytes()
        text = escape(names[path.stem])
        figures.append(
            f'<figure><img alt="{text}" width="{PICTURE_PX}" height="{height}" '
            f'src="data:image/jpeg;base64,{base64.b64encode(data).decode()}">'
            f"<figcaption>{text}</figcaption></figure>"
        )
    return f'<div class="stills">{"".join(figures)}</div>' if figures else ""


def _measures(technique: Technique | None) -> str:
    if technique is None or not technique.measures:
        return ""
    head = [("Measure", False), ("Value", True), ("Spread", True), ("Strokes", True),
            ("Confidence", True), ("Note", False)]  # fmt: skip
    rows = [
        (m.label, _value(m, m.value), _value(m, m.spread), str(m.strokes),
         f"{m.confidence * 100:.0f} %", _note(m))
        for m in technique.measures
    ]  # fmt: skip
    return _table(head, rows)


def _value(measure: Measure, value: float | None) -> str:
    if value is None:
        return "–"  # noqa: RUF001 - an en dash stands for "no value"
    if measure.unit == "share":
        return f"{value * 100:.0f} %"
    digits = 2 if measure.unit in ("s", "ratio") else 0 if measure.unit == "deg" else 1
    return f"{value:.{digits}f}{UNITS.get(measure.unit, ' ' + measure.unit)}"


def _note(measure: Measure) -> str:
    if measure.value is None:
        return measure.reason
    return f"one reading is good to about {_value(measure, measure.error)}" if measure.error else ""


def _findings(technique: Technique | None) -> str:
    if technique is None:
        return ""
    found = "".join(_finding(f) for f in technique.findings)
    return (found or _text("Nothing stood out enough to say.")) + _text(SAFETY, "soft")


def _finding(finding: Finding) -> str:
    kind = finding.kind if finding.kind in WORDS else "change"
    lines = [
        f'<p><span class="kind">{WORDS[kind]}.</span> {escape(finding.text)}</p>',
        _text(f"Coaching cue: {finding.coaching_cue}" if finding.coaching_cue else ""),
        _text(f"Drill: {finding.drill}" if finding.drill else ""),
        _text(finding.caution),
    ]
    times = ", ".join(f"{t:.2f} s" for t in finding.evidence_s)
    source = f"Seen in the clip at {times}. Source: {finding.source}." if times else finding.source
    return f'<div class="finding {kind}">{"".join(lines)}{_text(source, "soft")}</div>'


def _holds(plan: EditPlan) -> str:
    if not plan.holds:
        return ""
    head = [("Hold", False), ("At", True), ("Seconds", True), ("Why", False)]
    rows = [
        (f"{h.phase}, stroke {h.stroke + 1}" + (", inserted" if h.inserted else ""),
         clock_face(h.program_start_s), f"{float(h.duration_s):.1f}", h.why)
        for h in plan.holds
    ]  # fmt: skip
    return _table(head, rows)


def _sound(rendered: Mapping[str, object] | None) -> str:
    if not rendered or "loudness_lufs" not in rendered:
        return ""
    return _text(
        f"Sound: {rendered['loudness_before_lufs']} LUFS as recorded, {rendered['loudness_lufs']} "
        f"LUFS in the episode, true peak {rendered['true_peak_db']} dBTP."
    )


def _chapters(plan: EditPlan) -> str:
    rows = [(clock_face(c.start_s), c.title, c.phase or "", c.kind or "") for c in plan.chapters]
    head = [("At", True), ("Title", False), ("Phase", False), ("Kind", False)]
    return _table(head, rows) if rows else ""


def _captions(plan: EditPlan, settings: Settings, transcript: Transcript | None) -> str:
    if not plan.cues:
        return ""
    made = caption_report.report(
        plan.cues, max_chars=settings.captions.max_chars,
        words=caption_report.on_program(transcript, plan),
    )  # fmt: skip
    rows = [
        (str(r["rule"]), str(r["limit"]), str(r["source"]), str(r["breaking"]),
         str(r["unavoidable"]))
        for r in made["rules"]
    ]  # fmt: skip
    head = [("Rule", False), ("Limit", True), ("Source", False), ("Breaking", True),
            ("Of those unavoidable", True)]  # fmt: skip
    body = _text(f"{made['captions']} captions, counted on the episode's own time.")
    body += _table(head, rows)
    if transcript is None:
        return body
    repairs = [
        f"{clock_face(r.start_s)}: heard “{r.heard}”, written “{r.text}”"
        for r in transcript.repairs
    ]
    doubts = [f"{clock_face(d.start_s)}: {d.text or '(no words)'}" for d in transcript.doubtful]
    if repairs:
        body += _text("Words put right (recording time):") + _list(repairs)
    if doubts:
        body += _text("Worth a listen (recording time):") + _list(doubts)
    return body
