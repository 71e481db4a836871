"""The stage table, and the runner that runs whatever is stale.

A stage's key is made of its version, the settings and corrections it reads, the content of the
sources it reads and the content of the results it needs. So a change reaches exactly the stages
that depend on it, and stops where a result comes out the same.
"""

from __future__ import annotations

import dataclasses
import importlib
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from studio import store
from studio.episode import Episode, locked, source_digest
from studio.progress import Progress, Quiet
from studio.watchdog import Patience, Watched, watchdog


@dataclass(frozen=True)
class Stage:
    """One row of the table.

    Attributes:
        name: Also the name of its result, `work/<name>.json`.
        version: Raise it when the output changes for the same input.
        needs: Stages whose results it reads.
        run: Called with a `Job`; returns the result, or the files written where `kind` is empty.
        kind: Class of the result as "module:name"; empty for stages that only write files.
        sources: Names in `Sources` whose content it reads.
        settings: Dotted names in `Settings` that it reads.
        corrections: Names in `Corrections` that it reads.
        extra: More that the result depends on, such as which weights are present.
    """

    name: str
    version: int
    needs: tuple[str, ...]
    run: Callable[[Job], Any]
    sources: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()
    corrections: tuple[str, ...] = ()
    kind: str = ""
    extra: Callable[[Episode], str] | None = None


@dataclass
class Job:
    """What a running stage may use: the episode, its needs' results, and progress."""

    episode: Episode
    progress: Watched
    kinds: dict[str, str]
    _results: dict[str, Any] = field(default_factory=dict)

    def result(self, name: str) -> Any:
        """The result of a stage, loaded once."""
        if name not in self._results:
            path = self.episode.work / f"{name}.json"
            self._results[name] = store.load(path, _class(self.kinds[name]) | None)
        return self._results[name]

    def put(self, name: str, value: object) -> None:
        """Keep a fresh result at hand."""
        self._results[name] = value

    def forget(self, name: str) -> None:
        """Drop a result that is about to be remade."""
        self._results.pop(name, None)

    def source(self, name: str) -> Path:
        """Path of a source that the episode is known to have."""
        path = self.episode.source(name)
        if path is None:
            raise LookupError(name)
        return path


@dataclass(frozen=True, slots=True)
class Ran:
    """One stage that was run: why, and what it cost."""

    stage: str
    reason: str
    wall_s: float
    cpu_s: float


def make(
    episode: Episode,
    stages: Sequence[Stage],
    *,
    progress: Progress | None = None,
    until: str = "",
    force: bool = False,
    patience: Patience = Patience(),  # noqa: B008 - frozen
) -> list[Ran]:
    """Run whatever is stale, in order.

    Args:
        episode: The episode.
        stages: The table, in the order of the work.
        progress: Told what is going on.
        until: Stop after this stage; empty = all.
        force: Run every stage, stale or not.
        patience: How long a stage may show no sign of life.

    Returns:
        What was run, in order.

    Raises:
        LaunchsideError: A stage could not do its work, or stalled; earlier results are kept.
    """
    with locked(episode):
        job = Job(episode, Watched(progress or Quiet()), {s.name: s.kind for s in stages})
        ran = []
        for stage in stages:
            done = _refresh(job, stage, patience, force=force)
            ran += [done] if done else []
            if stage.name == until:
                break
    return ran


def stale(episode: Episode, stages: Sequence[Stage]) -> dict[str, str]:
    """First stale stage and why, or nothing: later ones depend on what it will give."""
    for stage in stages:
        reason = store.stale_reason(episode.work, stage.name, key_of(episode, stage))
        if reason:
            return {stage.name: reason}
    return {}


def key_of(episode: Episode, stage: Stage) -> str:
    """The key that a fresh result of `stage` has now."""
    sources = {}
    for name in stage.sources:
        path = episode.source(name)
        sources[name] = source_digest(episode, path) if path else None
    needs = {}
    for name in stage.needs:
        record = store.recorded(episode.work, name)
        needs[name] = record["files"] if record else None
    return store.digest_value(
        {
            "stage": stage.name,
            "version": stage.version,
            "sources": sources,
            "needs": needs,
            "settings": {name: _plain(episode.settings, name) for name in stage.settings},
            "corrections": {name: _plain(episode.corrections, name) for name in stage.corrections},
            "extra": stage.extra(episode) if stage.extra else "",
        }
    )


def _refresh(job: Job, stage: Stage, patience: Patience, *, force: bool) -> Ran | None:
    episode = job.episode
    key = key_of(episode, stage)
    reason = store.stale_reason(episode.work, stage.name, key)
    if not reason and not force:
        return None
    job.forget(stage.name)
    wall, cpu = time.monotonic(), time.process_time()
    with watchdog(stage.name, job.progress, patience):
        value = stage.run(job)
    job.progress.finish()
    files: list[Path]
    if stage.kind:
        files = store.save(episode.work / f"{stage.name}.json", value)
        job.put(stage.name, value)
    else:
        files = list(value)
    store.mark(episode.work, stage.name, key, files)
    return Ran(
        stage.name, reason or "asked for", time.monotonic() - wall, time.process_time() - cpu
    )


def _plain(owner: object, dotted: str) -> object:
    value: Any = owner
    for name in dotted.split("."):
        value = getattr(value, name)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return dataclasses.asdict(value)
    if isinstance(value, tuple):
        return [dataclasses.asdict(item) for item in value]
    return value


def _class(dotted: str) -> Any:
    module, _, name = dotted.partition(":")
    return getattr(importlib.import_module(module), name)
