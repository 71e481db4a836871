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
    " change. Even so about one in twenty that are called a change is chance. Up and down are not"
    " better and worse.",
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
    heads = [("Measure", ""), ("Over the season", ""), ("First", ' class="n"'),
             ("Latest", ' class="n"'), ("Difference", ' class="n"'),
             ("Its error", ' class="n"'), ("Verdict", "")]  # fmt: skip
    top = "".join(f'<th scope="col"{mark}>{name}</th>' for name, mark in heads)
    return (f'<div class="wide"><table><thead><tr>{top}</tr></thead>'
            f"<tbody>{rows}</tbody></table></div>")  # fmt: skip


def _row(history: History, course: Course) -> str:
    told = [
        f"{e.name}: {_reading(r)}" for e, r in zip(history.entries, course.readings, strict=True)
    ]
    picture = chart.svg(course.readings, told, f"{course.label}. {'. '.join(told)}")
    known = [r for r in course.readings if r.measure.value is not None]
    good = [course.readings[i] for i in course.comparable] or known
    change = course.change
    cells = [
        ("", escape(course.label)),
        ("", picture),
        ("n", escape(number(good[0].measure.value, course.unit))),
        ("n", escape(number(good[-1].measure.value, course.unit)) if len(known) > 1 else ""),
        ("n", escape(number(change.difference, course.unit, signed=True)) if change else ""),
        ("n", f"± {escape(number(change.error, course.unit))}" if change else ""),
        ("v", escape(_verdict(course))),
    ]
    body = "".join(f'<td class="{kind}">{text}</td>' for kind, text in cells)
    return f"<tr{' class=' + chr(34) + 'changed' + chr(34) if _changed(course) else ''}>{body}</tr>"


def _verdict(course: Course) -> str:
    if course.change is None:
        several = len(course.readings) > 1
        return (
            f"cannot be told: {_reasons(course)}" if several and _reasons(course) else "one episode"
        )
    apart = [i for i, r in enumerate(course.readings) if r.why_not]
    less = f" ({_count(len(apart), 'episode')} left out)" if apart else ""
    return course.change.verdict + less


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
    return f"{rounded:{'+' if signed and rounded else ''}.{digits}f}{sign}"
