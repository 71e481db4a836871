"""Two files, a history that outlives everything, and nobody overwritten unseen."""

import json

import pytest

from studio.review.edits import Documents, apply
from studio.review.journal import MOST_STATES, Conflict, Journal

EPISODE = '[sources]\nclip = "clip.mp4"\n'


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "episode.toml").write_text(EPISODE)
    return tmp_path


def rename(journal, title, merge=""):
    after, label = apply(journal.documents(), "rename_chapter", {"recording_s": 1, "title": title})
    journal.record(after, label, merge)


def titles(folder):
    path = folder / "corrections.toml"
    return path.read_text() if path.exists() else ""


def test_undo_and_redo_by_another_journal_after_the_first_is_gone(folder):
    rename(Journal(folder), "One")
    rename(Journal(folder), "Two")
    later = Journal(folder)
    later.go(-1)
    assert '"One"' in titles(folder)
    later.go(-1)
    assert titles(folder) == ""
    assert later.history().redo_label == "rename a chapter"
    later.go(1)
    later.go(1)
    assert '"Two"' in titles(folder)
    with pytest.raises(Conflict):
        later.go(1)


def test_a_new_edit_ends_what_could_be_redone(folder):
    journal = Journal(folder)
    rename(journal, "One")
    journal.go(-1)
    rename(journal, "Other")
    assert journal.history().redo_label is None


def test_typing_in_one_field_is_one_step(folder):
    journal = Journal(folder)
    for text in ("T", "Th", "The catch"):
        rename(journal, text, merge="title:1")
    rename(journal, "Later", merge="title:2")
    journal.go(-1)
    assert '"The catch"' in titles(folder)
    journal.go(-1)
    assert titles(folder) == ""


def test_killed_between_the_history_and_the_file_the_edit_did_not_happen(folder):
    journal = Journal(folder)
    rename(journal, "One")
    before = titles(folder)
    rename(journal, "Two")
    (folder / "corrections.toml").write_text(before)  # as if the second write never came
    history = Journal(folder).history()
    assert history.position == 1
    assert history.redo_label == "rename a chapter"


def test_a_damaged_history_costs_undo_and_nothing_else(folder):
    journal = Journal(folder)
    rename(journal, "One")
    (folder / "work" / "desk" / "history.json").write_text('{"position": 1, "sta')
    assert '"One"' in titles(folder)
    assert Journal(folder).history().undo_label is None
    rename(journal, "Two")
    Journal(folder).go(-1)
    assert '"One"' in titles(folder)


def test_an_edit_by_hand_is_seen_kept_and_a_step_of_its_own(folder):
    journal = Journal(folder)
    rename(journal, "One")
    revision = journal.revision()
    path = folder / "corrections.toml"
    path.write_text(path.read_text() + "\n# mine\n")
    with pytest.raises(Conflict, match="changed elsewhere"):
        journal.check(revision)
    rename(journal, "Two")
    assert "# mine" in titles(folder)
    journal.go(-1)
    assert "# mine" in titles(folder)
    assert '"One"' in titles(folder)


def test_the_history_stays_bounded(folder):
    journal = Journal(folder)
    for k in range(MOST_STATES + 20):
        journal.record(Documents(f"# {k}\n", EPISODE), "edit")
    states = json.loads((folder / "work" / "desk" / "history.json").read_text())["states"]
    assert len(states) == MOST_STATES
    assert states[-1]["corrections"] == f"# {MOST_STATES + 19}\n"


def test_nothing_half_written_is_left_behind(folder):
    rename(Journal(folder), "One")
    assert not list(folder.rglob(".aside-*"))
