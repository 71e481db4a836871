"""Athletes of other episodes that an episode compares its own with."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import cattrs

from studio import store
from studio.episode import Episode, open_episode
from studio.errors import PlanError
from studio.model.faces import OtherFaces
from studio.model.media import MediaFile
from studio.model.technique import Technique

if TYPE_CHECKING:
    from studio.deliver.beside import Athlete


def guest_names(episode: Episode) -> list[str]:
    """Folders of other episodes that `corrections.toml` names, each once."""
    found = {fix.other for fix in episode.corrections.holds if fix.action == "compare"}
    return sorted(found - {""})


def guest(episode: Episode, name: str) -> Athlete:
    """The athlete of another episode, from what its own make found.

    Raises:
        ConfigError: No episode folder.
        PlanError: Its clip has not been analysed yet.
        MediaError: Its clip is gone.
    """
    from studio.deliver.beside import Athlete

    other = open_episode((episode.folder / name).resolve())
    try:
        media = store.load(other.work / "clip.json", MediaFile)
        technique = store.load(other.work / "technique.json", Technique)
        faces: OtherFaces | None = store.load(
            other.work / "bystanders.json",
            OtherFaces | None,  # type: ignore[arg-type]
        )
    except (OSError, ValueError, cattrs.BaseValidationError) as error:
        raise PlanError(
            f"{other.folder}: cannot be compared with, its clip has not been analysed.",
            f"Make it first: launchside make {other.folder}",
        ) from error
    path = other.source("clip")
    assert path is not None
    about = other.settings.athlete
    return Athlete((path, media), technique, about.consent != "yes", faces, about.alias)


def guests_state(episode: Episode) -> str:
    """What a comparing picture rests on beyond the episode itself; empty where it compares none."""
    state: dict[str, object] = {}
    for name in guest_names(episode):
        other = open_episode((episode.folder / name).resolve())
        about = other.settings.athlete
        made = [store.recorded(other.work, stage) for stage in ("clip", "technique", "bystanders")]
        state[name] = [about.consent, about.alias, [record and record["files"] for record in made]]
    return json.dumps([state, episode.settings.athlete.alias], sort_keys=True) if state else ""
