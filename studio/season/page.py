"""`season.html`: each athlete's measures over the episodes, and an index, on one page."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from importlib.resources import files
from pathlib import Path

from studio.season import chart
from studio.season.change import Reading
from studio.season.history import Course, Entry, History
from studio.season.index import index

USUAL = ("rate", "ratio", "drive_time", "lean", "layback", "shin", "arms_bend")
"""Shown for everyone; the others only where they have changed, or when they are asked for."""
HOW = (
    "Each dot is one episode: the middle one of its strokes. Its bar reaches two standard errors"
    " each way, made of what the camera errs by and of how much the strokes differ. A change counts"
    " only when it is larger than the errors of both episodes together; all else is called no"
    " change. Of twenty measures that stayed as they were, one may still look changed by chance. Up"
    " and down are not better and worse.",
    "A hollow dot cannot be compared, a cross stands for no value; point at it to see why. The"
    " figures describe what the camera saw; they are no diagnosis.",
    "This page is for the coach. Show somebody's figures to others only if they agree.",
)


def season_page(entries: Sequence[Entry], histories: Sequence[History], base: Path) -> str:
    """The page as HTML, all that it shows inside it; links are relative to the folder `base`."""
    followed = [h for h in histories if h.entries]
    anchors = {h.alias: f"athlete-{i}" for i, h in enumerate(followed, 1)}
    parts = [
        f'<div class="how">{"".join(f"<p>{escape(p)}</p>" for p in HOW)}</div>',
        _contents(anchors),
        *(_athlete(h, anchors[h.alias]) for h in followed),
        index(entries, base),
    ]
    series = sorted({e.about.series for e in entries if e.about.series})
    clubs = sorted({e.about.club for e in entries if e.about.club})
    counts = f"{_count(len(entries), 'episode')} · {_count(len(histories), 'athlete')}"
    page = files("studio.season").joinpath("season.html").read_text(encoding="utf-8")
    return page.format(
        title=escape(f"{series[0]}: the season" if len(series) == 1 else "The season"),
        subtitle=escape(" · ".join([*clubs, counts])),
        body="\n".join(parts),
    )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _contents(anchors: dict[str, str]) -> str:
    links = [f'<li><a href="#{a}">{escape(n)}</a></li>' for n, a in anchors.items()]
    links.append('<li><a href="#episodes">Episodes</a></li>')
    return f'<nav aria-label="On this page"><ul>{"".join(links)}</ul></nav>'


def _athlete(history: History, anchor: str) -> str:
    shown = [c for c in history.courses if any(r.measure.value is not None for r in c.readings)]
    top = [c for c in shown if c.name in USUAL or _changed(c)]
    rest = [c for c in shown if c not in top]
    parts = [f'<section>\n<h2 id="{anchor}">{escape(history.alias)}</h2>', _said(history)]
    if top:
        parts.append(_courses(history, top))
    if rest:
        parts.append(f"<details><summary>{_count(len(rest), 'more measure')}, none changed"
                     f"</summary>{_courses(history, rest)}</details>")  # fmt: skip
    withheld = [c for c in history.courses if c not in shown]
    if withheld:
        lines = "".join(f"<li>{escape(c.label)}: {escape(_reasons(c))}</li>" for c in withheld)
        parts.append(
            f"<details><summary>{_count(len(withheld), 'measure')} withheld</summary>"
            f"<ul>{lines}</ul></details>"
        )
    return "\n".join([*parts, "</section>"])


def _changed(course: Course) -> bool:
    return course.change is not None and course.change.verdict != "no change"


def _reasons(course: Course) -> str:
    return "; ".join(dict.fromkeys(r.why_not for r in course.readings if r.why_not))


def _said(history: History) -> str:
    """What the episodes are, and what makes them hard to compare."""
    techniques = [e.technique for e in history.entries if e.technique is not None]
    said = [f"{_count(len(history.entries), 'episode')} with measures."]
    if len({t.body.source for t in techniques}) > 1:
        said.append("Measured with different pose weights, which differ by a degree or two.")
    off = [e.name for e, t in zip(history.entries, techniques, strict=True) if not t.view.square]
    if off:
        said.append(f"Filmed too far off square to compare angles: {', '.join(off)}.")
    rate = next((c for c in history.courses if c.name == "rate"), None)
    if rate is not None and _changed(rate):
        said.append("The stroke rate differs, and most measures differ with it.")
    return f"<p>{escape(' '.join(said))}</p>"


def _courses(history: History, courses: Iterable[Course]) -> str:
    rows = "".join(_row(history, c) for c in courses)
    heads = [("Measure", "m"), ("Over the season", "p"), ("First", "n"), ("Latest", "n"),
             ("Difference", "n"), ("Error", "n"), ("Verdict", "v")]  # fmt: skip
    top = "".join(f'<th scope="col" class="{kind}">{name}</th>' for name, kind in heads)
    return (f'<div class="wide"><table><thead><tr>{top}</tr></thead>'
            f"<tbody>{rows}</tbody></table></div>")  # fmt: skip


def _row(history: History, course: Course) -> str:
    told = [
        f"{e.name}: {_reading(r)}" for e, r in zip(history.entries, course.readings, strict=True)
    ]
    picture = chart.svg(course.readings, told, f"{course.label}. {'. '.join(told)}")
    change = course.change
    ends = course.comparable
    if change is None:
        ends = [i for i, r in enumerate(course.readings) if r.measure.value is not None]
    cells = [
        ("", escape(course.label)),
        ("", picture),
        ("n", _end(history, course, ends[0], 0)),
        ("n", _end(history, course, ends[-1], -1) if len(ends) > 1 else ""),
        ("n", escape(number(change.difference, course.unit, signed=True)) if change else ""),
        ("n", f"± {escape(number(change.error, course.unit))}" if change else ""),
        ("v", _verdict(course)),
    ]
    body = "".join(f'<td class="{kind}">{text}</td>' for kind, text in cells)
    return f"<tr{' class=' + chr(34) + 'changed' + chr(34) if _changed(course) else ''}>{body}</tr>"


def _end(history: History, course: Course, place: int, end: int) -> str:
    """The value at one end of the comparison; says where that is not the end of the season."""
    shown = escape(number(course.readings[place].measure.value, course.unit))
    entry = history.entries[place]
    return shown if entry is history.entries[end] else shown + _soft(f"({entry.short})")


def _verdict(course: Course) -> str:
    """As HTML: the verdict, and softly what it leaves out."""
    reasons = _reasons(course)
    if len(course.readings) < 2:
        return "one episode"
    if course.change is None:
        return f"cannot be told{_soft(reasons)}"
    apart = sum(bool(r.why_not) for r in course.readings)
    return course.change.verdict + (_soft(f"{apart} left out: {reasons}") if apart else "")


def _soft(text: str) -> str:
    return f'<br><span class="soft">{escape(text)}</span>'


def _reading(reading: Reading) -> str:
    m = reading.measure
    if m.value is None:
        return reading.why_not
    bar = "" if reading.bar is None else f" ± {number(reading.bar, m.unit)}"
    why = f", {reading.why_not}" if reading.why_not else f" over {_count(m.strokes, 'stroke')}"
    return f"{number(m.value, m.unit)}{bar}{why}"


def number(value: float | None, unit: str, *, signed: bool = False) -> str:
    """As printed: no finer than a camera can tell, and never a minus zero."""
    if value is None:
        return ""
    scale, digits, sign = {
        "deg": (1, 0, "°"), "share": (100, 0, " %"), "s": (1, 2, " s"), "spm": (1, 1, " spm"),
        "cm": (1, 1, " cm"),
    }.get(unit, (1, 2, ""))  # fmt: skip
    rounded = round(value * scale, digits) + 0.0
    printed = f"{rounded:{'+' if signed and rounded else ''}.{digits}f}"
    return printed.replace("-", "\N{MINUS SIGN}") + sign
