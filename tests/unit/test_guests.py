"""Athletes of other episodes: from what was made of them, and stale when that changes."""

import pytest

from studio import store
from studio.config import Athlete, Corrections, HoldFix, Settings
from studio.episode import Episode
from studio.errors import ConfigError, PlanError
from studio.guests import guest, guest_names, guests_state
from studio.ingest.probe import probe
from tests.edit_scene import technique


@pytest.fixture
def host(tmp_path):
    folder = tmp_path / "tobias"
    fixes = (HoldFix("compare", 2.0, "catch", other="../lena"), HoldFix("drop", 9.0))
    return Episode(folder, Settings(athlete=Athlete(alias="Tobias")), Corrections(holds=fixes))


@pytest.fixture
def lena(tmp_path, tiny_clip):
    """Another episode, its clip analysed."""
    folder = tmp_path / "lena"
    folder.mkdir()
    toml = f'[sources]\nclip = "{tiny_clip}"\n[athlete]\nalias = "Lena"\n'
    (folder / "episode.toml").write_text(toml)
    made = {"clip": probe(tiny_clip), "technique": technique(), "bystanders": None}
    for name, value in made.items():
        files = store.save(folder / "work" / f"{name}.json", value)
        store.mark(folder / "work", name, "key", files)
    return folder


def test_a_guest_comes_with_name_clip_and_without_consent_blurred(host, lena, tiny_clip):
    assert guest_names(host) == ["../lena"]
    found = guest(host, "../lena")
    assert (found.alias, found.blur, found.clip[0]) == ("Lena", True, tiny_clip)
    assert found.best("catch") == technique().strokes[0].catch_s


def test_the_picture_is_stale_when_the_guest_changes(host, lena):
    before = guests_state(host)
    assert guests_state(host) == before != ""
    toml = (lena / "episode.toml").read_text()
    (lena / "episode.toml").write_text(toml + 'consent = "yes"\n')
    assert guests_state(host) != before


def test_an_episode_without_guests_rests_on_none(tmp_path):
    assert guests_state(Episode(tmp_path, Settings(), Corrections())) == ""


def test_a_guest_that_was_never_made_is_told(host, lena):
    (lena / "work" / "technique.json").unlink()
    with pytest.raises(PlanError, match="has not been analysed"):
        guest(host, "../lena")


def test_a_guest_that_is_no_episode_is_told(host):
    with pytest.raises(ConfigError, match="not an episode folder"):
        guest(host, "../lena")
