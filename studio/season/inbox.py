"""Clips as they arrive: each checked, answered with a note, and made an episode if it is fit."""

from __future__ import annotations

import shutil
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from studio import store
from studio.config import Corrections
from studio.episode import Episode
from studio.episode_file import withdraw_consent, write_new
from studio.errors import (
    ConfigError,
    EvidenceError,
    LaunchsideError,
    MediaError,
    OutputError,
    ToolError,
)
from studio.ingest.probe import BREAKS_OFF, probe
from studio.model.media import MediaFile
from studio.model.pose import PoseTrack
from studio.model.technique import Technique
from studio.pipeline import make
from studio.progress import Progress, Quiet
from studio.season import arrivals, notes, record as records, sidecar as sidecars
from studio.season.arrivals import Stamp
from studio.season.folders import printable
from studio.season.sidecar import Sidecar
from studio.stages import STAGES
from studio.technique.check import Check, check


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one file of the inbox.

    Attributes:
        name: Of the file.
        result: "taken" (an episode was made of it), "sent back" (not fit; the note says why),
            "waits" (for what is said of it to be mended, or for a guardian), "again" (the same
            clip was dealt with before), "left" (no clip), "arriving" (still growing) or "failed".
        reason: One line for the coach.
        note: The note to the athlete; None = there is nothing to say.
        folder: The new episode.
    """

    name: str
    result: str
    reason: str
    note: Path | None = None
    folder: Path | None = None


@dataclass(frozen=True, slots=True)
class _Offer:
    """A clip of the inbox with what is said of it: the sidecar's file, its digest, its content."""

    path: Path
    beside: Path | None
    said: str
    sidecar: Sidecar


class Inbox:
    """A folder that clips arrive in, and one that episodes, notes and the record go to.

    Nothing in the first is ever changed, moved or removed.

    Args:
        folder: Where clips arrive.
        to: Where the rest goes.
        about: "series" and "club" of the episodes.
        weights: Pose weights, "auto", "full" or "heavy".
        progress: Told of long work.

    Raises:
        ConfigError: There is no such folder, both are the same, or the record is damaged.
    """

    def __init__(
        self,
        folder: Path,
        to: Path,
        *,
        about: Mapping[str, str] | None = None,
        weights: str = "auto",
        progress: Progress | None = None,
    ) -> None:
        if not folder.is_dir():
            raise ConfigError(f"{folder}: there is no such folder.", "Give the one clips come to.")
        self._folder, self._to = folder.resolve(), to.resolve()
        if self._to == self._folder:
            raise ConfigError(f"{to}: clips come there.", "Give --to another folder.")
        self._about = {"title": "", "series": "", "club": "", **(about or {})}
        self._weights = weights
        self._progress = progress or Quiet()
        self._record_path = self._to / "inbox.json"
        self._record = records.load(self._record_path)

    def once(self, settle_s: float) -> Iterator[Taken]:
        """One pass over what is there; a file that changes within `settle_s` is still arriving."""
        before = arrivals.look(self._folder)
        if before:
            time.sleep(settle_s)
        now = arrivals.look(self._folder)
        there = arrivals.arrived(before, now)
        yield from self._take_all(there)
        for path in now.keys() - there.keys():
            yield Taken(path.name, "arriving", "empty so far, or still changing")

    def watch(self, every_s: float) -> Iterator[Taken]:
        """Pass after pass until interrupted."""
        before: dict[Path, Stamp] = {}
        told: dict[str, Taken] = {}
        while True:
            now = arrivals.look(self._folder)
            for taken in self._take_all(arrivals.arrived(before, now)):
                if told.get(taken.name) != taken:  # what waits or failed is tried again, quietly
                    told[taken.name] = taken
                    yield taken
            before = now
            time.sleep(every_s)

    def _take_all(self, there: Mapping[Path, Stamp]) -> Iterator[Taken]:
        with records.held(self._to):
            self._clear()
            for path, stamp in there.items():
                try:
                    taken = self._take(path, stamp)
                except (OutputError, ToolError):
                    raise  # the next clip would fare no better
                except (LaunchsideError, OSError) as error:
                    taken = Taken(path.name, "failed", printable(error))
                except Exception as error:  # noqa: BLE001 - whatever it is, the others go on
                    what = printable(f"{type(error).__name__}: {error}")
                    taken = Taken(path.name, "failed", f"unexpected ({what})")
                if taken is not None:
                    yield taken

    def _clear(self) -> None:
        """Remove what a killed pass had begun: the clip is still in the inbox."""
        for leftover in self._to.glob(f"{store.ASIDE}*"):
            shutil.rmtree(leftover, ignore_errors=True)
        for digest, dealt in list(self._record.clips.items()):
            if not dealt.done:
                folder = self._to / dealt.folder
                if not (folder / "episode.toml").exists():
                    shutil.rmtree(folder, ignore_errors=True)
                    del self._record.clips[digest]

    def _take(self, path: Path, stamp: Stamp) -> Taken | None:
        """Deal with one file; None where that was done before."""
        try:
            beside = sidecars.beside(path)
        except ConfigError as error:
            return self._waits(path, stamp, str(error))
        said = store.digest_file(beside) if beside else ""
        if self._record.knows(path.name, stamp, said):
            return None
        if not arrivals.is_video_name(path):
            self._remember(path, stamp, "", said)
            return Taken(path.name, "left", "its name does not end the way clips do")
        try:
            sidecar = sidecars.read(beside)
        except ConfigError as error:
            return self._waits(path, stamp, str(error), said)
        with store.folder_aside(self._to) as aside:
            copy = aside / f"clip{path.suffix.lower()}"
            digest = arrivals.copied(path, copy)
            if arrivals.look(self._folder).get(path) != stamp:
                return Taken(path.name, "arriving", "it changed while it was read")
            known = self._record.clips.get(digest)
            offer = _Offer(path, beside, said, sidecar)
            if known and (known.folder or known.sidecar == said):
                taken = self._again(offer, known)
            else:
                taken = self._check(offer, copy, digest)
        self._remember(path, stamp, digest, said)
        return taken

    def _waits(self, path: Path, stamp: Stamp, reason: str, said: str = "") -> Taken:
        """Nothing is guessed of a clip whose sidecar cannot be read."""
        if said:
            self._remember(path, stamp, "", said)
        return Taken(path.name, "waits", reason)

    def _remember(self, path: Path, stamp: Stamp, digest: str, said: str) -> None:
        self._record.remember(path.name, stamp, digest, said)
        records.save(self._record_path, self._record)

    def _again(self, offer: _Offer, known: records.Dealt) -> Taken:
        """The same clip once more: a later no counts at once, a later yes is for the coach."""
        if not known.folder:
            return Taken(offer.path.name, "again", "sent back before")
        reason = f"the same clip as before, in {known.folder}"
        if offer.beside is not None and known.sidecar != offer.said:
            shown = offer.sidecar.may_be_shown
            if not shown and withdraw_consent(self._to / known.folder):
                reason = f'consent taken back: set to "no" in {known.folder}; make it again'
            else:
                reason += f"; {offer.beside.name} differs now: look over its episode.toml"
            if not offer.sidecar.may_be_used:
                reason += "; a guardian has not agreed: do not use it"
        return Taken(offer.path.name, "again", reason)

    def _check(self, offer: _Offer, copy: Path, digest: str) -> Taken:
        """Look at a new clip, answer it, and keep it if it is fit."""
        path, sidecar, said = offer.path, offer.sidecar, offer.said
        folder = self._to / f"{_slug(sidecar.alias) or 'athlete'}-{digest[:8]}"
        if not sidecar.may_be_used:
            fit, result, reason = False, "waits", "a guardian has not agreed"
            note = notes.guardian(sidecar)
        else:
            self._record.clips[digest] = records.Dealt(folder.name, said, done=False)
            records.save(self._record_path, self._record)
            fit, reason, note = self._looked_at(copy, folder, sidecar)
            result = "taken" if fit else "sent back"
        at = self._to / "notes" / f"{_slug(path.name) or 'clip'}-{digest[:8]}.txt"
        store.write_text(at, note + "\n")
        if fit:
            self._keep(folder, folder / copy.name, offer)
        elif folder.exists():
            shutil.rmtree(folder)
        kept = folder if fit else None
        self._record.clips[digest] = records.Dealt(kept.name if kept else "", said, done=True)
        return Taken(path.name, result, reason, at, kept)

    def _looked_at(self, copy: Path, folder: Path, sidecar: Sidecar) -> tuple[bool, str, str]:
        """Whether a copied clip is fit, why not, and the note; what was read off is in `folder`."""
        try:
            media = probe(copy)
            broken = next((n for n in media.notices if n.startswith(BREAKS_OFF)), "")
            if broken:
                raise MediaError(broken)
            seconds = float(media.duration_s)
            if seconds > notes.LONGEST_S:
                return False, f"{seconds / 60:.0f} minutes long", notes.too_long(sidecar, seconds)
            folder.mkdir(parents=True, exist_ok=True)
            copy = copy.replace(folder / copy.name)
            verdict = self._verdict(folder, copy, sidecar)
        except MediaError as error:
            reason = printable(error.message.replace(f"{copy}: ", ""))
            return False, reason, notes.unreadable(sidecar)
        wrong = "; ".join(f"{p.name}: {p.seen}" for p in verdict.points if not p.good)
        blurred = notes.BLURRED if verdict.fit and not sidecar.may_be_shown else ""
        return verdict.fit, wrong or "fit to review", verdict.note + blurred

    def _keep(self, folder: Path, clip: Path, offer: _Offer) -> None:
        """With its `episode.toml`, written last, the folder is an episode."""
        if offer.beside is not None:
            shutil.copyfile(offer.beside, folder / "clip.toml")
        athlete = offer.sidecar.settings().athlete
        write_new(
            folder,
            {"clip": clip},
            {**self._about, "alias": athlete.alias, "consent": athlete.consent},
            athlete.height_cm,
            offer.sidecar.captured_fps,
            {
                "athlete": {"level": athlete.level, "under_18": athlete.under_18},
                "clip": {"weights": self._weights},
            },
        )

    def _verdict(self, folder: Path, clip: Path, sidecar: Sidecar) -> Check:
        """The check of a clip; what it rests on stays in `work/`, so that `make` need not redo it.

        Raises: MediaError, ToolError, OutputError.
        """
        settings = sidecar.settings(clip.name, self._weights)
        episode = Episode(folder, settings, Corrections())
        make(episode, STAGES, progress=self._progress, until="pose")
        media = store.load(episode.work / "clip.json", MediaFile)
        pose = store.load(episode.work / "pose.json", PoseTrack)
        technique: Technique | EvidenceError
        try:
            make(episode, STAGES, progress=self._progress, until="technique")
            technique = store.load(episode.work / "technique.json", Technique)
        except EvidenceError as error:
            technique = error
        return check(media, pose, technique, settings)


def _slug(text: str) -> str:
    """Letters and digits of any script, the rest as single hyphens: a safe part of a file name."""
    kept = "".join(c if c.isalnum() else " " for c in text.casefold())
    return "-".join(kept.split())[:30].strip("-")
