"""The episodes of a season as they stand, and each athlete's readings over them."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import cattrs

from studio import store
from studio.config import About, Athlete
from studio.episode import Episode, open_episode
from studio.errors import LaunchsideError, MediaError
from studio.model.plan import EditPlan
from studio.model.speech import Outline
from studio.model.technique import Measure, Technique
from studio.pipeline import stale
from studio.season.change import Change, Reading, compare, read
from studio.stages import STAGES

T = TypeVar("T")
_MEASURING = ("clip", "pose", "technique")


@dataclass(frozen=True, slots=True)
class Entry:
    """One episode of the season.

    Attributes:
        folder: Its folder, absolute.
        about: Its place in the series.
        athlete: Who rows.
        technique: What its clip shows, if that is up to date.
        plan: Its edit plan; chapters on program time.
        outline: Talking points, recording time.
        troubles: What the coach should know of it, one line each.
    """

    folder: Path
    about: About = field(default_factory=About)
    athlete: Athlete = field(default_factory=Athlete)
    technique: Technique | None = None
    plan: EditPlan | None = None
    outline: Outline | None = None
    troubles: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """What to call it."""
        return ": ".join(p for p in (self.short, self.about.title) if p)

    @property
    def short(self) -> str:
        """What to call it in few words."""
        return f"Episode {self.about.number}" if self.about.number else self.folder.name


@dataclass(frozen=True, slots=True)
class Course:
    """One measure of one athlete over the season: a reading an episode, None where there is none.

    Attributes:
        name: Registry key.
        label: In a coach's words.
        unit: Of the measure.
        readings: One an episode with measures, in order.
    """

    name: str
    label: str
    unit: str
    readings: tuple[Reading, ...]

    @property
    def comparable(self) -> list[int]:
        """Places of the readings that may be compared."""
        return [i for i, r in enumerate(self.readings) if not r.why_not]

    @property
    def change(self) -> Change | None:
        """From the first to the last comparable reading; None below two."""
        places = self.comparable
        if len(places) < 2:
            return None
        return compare(self.readings[places[0]], self.readings[places[-1]])

    def since(self, place: int) -> tuple[Change | None, Change | None]:
        """The change up to the reading at `place`: since the first, since the one before."""
        before = [i for i in self.comparable if i < place]
        if place not in self.comparable or not before:
            return None, None
        here = self.readings[place]
        return compare(self.readings[before[0]], here), compare(self.readings[before[-1]], here)


@dataclass(frozen=True, slots=True)
class History:
    """One athlete's season: the episodes with measures, in order, and a course a measure."""

    alias: str
    entries: tuple[Entry, ...]
    courses: tuple[Course, ...]


def read_season(folders: Sequence[Path]) -> list[Entry]:
    """Every episode, by its number, those without one after them as given."""
    entries = [_entry(folder) for folder in folders]
    return sorted(entries, key=lambda e: (e.about.number <= 0, e.about.number))


def _entry(folder: Path) -> Entry:
    try:
        episode = open_episode(folder)
    except LaunchsideError as error:
        return Entry(folder, troubles=(str(error),))
    settings = episode.settings
    measured, trouble = _measured(episode)
    return Entry(
        folder,
        settings.episode,
        settings.athlete,
        measured,
        _loaded(episode, "plan", EditPlan),
        _loaded(episode, "outline", Outline),
        tuple(dict.fromkeys(t for t in (trouble, _behind(episode)) if t)),
    )


def _measured(episode: Episode) -> tuple[Technique | None, str]:
    """What the clip shows, if nothing it rests on has changed since; and what is wrong with it."""
    if not episode.settings.sources.clip:
        return None, ""
    table = [s for s in STAGES if s.name in _MEASURING]
    try:
        behind = stale(episode, table)
    except MediaError:  # put away after the episode was made: what was measured stands
        return _loaded(episode, "technique", Technique), "its clip is gone; measures as last made"
    except LaunchsideError as error:
        return None, str(error)
    if behind:
        ((_, reason),) = behind.items()
        return None, f"no measures: {reason}; make it (again)"
    return _loaded(episode, "technique", Technique), ""


def _behind(episode: Episode) -> str:
    try:
        behind = stale(episode, STAGES)
    except LaunchsideError as error:
        return str(error)
    return "not up to date; make it (again)" if behind else ""


def _loaded(episode: Episode, stage: str, kind: type[T]) -> T | None:
    try:
        return store.load(episode.work / f"{stage}.json", kind)
    except (OSError, ValueError, KeyError, TypeError, cattrs.BaseValidationError):
        return None  # not made, or by a version that wrote it differently


def histories(entries: Sequence[Entry]) -> list[History]:
    """One for each alias, in the order of their first episodes; none for who has no alias.

    Spelling in large or small letters and spaces make no difference.
    """
    groups: dict[str, list[Entry]] = {}
    for entry in entries:
        key = same_name(entry.athlete.alias)
        if key:
            groups.setdefault(key, []).append(entry)
    return [_history(group) for group in groups.values()]


def same_name(alias: str) -> str:
    """Equal for the same alias."""
    return " ".join(unicodedata.normalize("NFKC", alias).casefold().split())


def _history(group: Sequence[Entry]) -> History:
    measured = [(e, e.technique) for e in group if e.technique is not None]
    kinds = {m.name: m for _, t in measured for m in t.measures}
    by_episode = [({m.name: m for m in t.measures}, t) for _, t in measured]
    courses = []
    for name, kind in kinds.items():
        absent = Measure(
            name, kind.label, None, kind.unit, None, 0, 0.0, reason="not measured then"
        )
        readings = tuple(read(found.get(name, absent), t) for found, t in by_episode)
        courses.append(Course(name, kind.label, kind.unit, readings))
    return History(group[0].athlete.alias, tuple(e for e, _ in measured), tuple(courses))
