"""Clips as they arrive: good and bad ones, under odd names, with and without consent."""

import os
import shutil
import subprocess
import tomllib
from pathlib import Path

import imageio_ffmpeg
import pytest
from click.testing import CliRunner

from studio.cli.main import cli
from studio.config import load_settings
from studio.errors import ConfigError, MediaError, OutputError
from studio.pipeline import make
from studio.season import arrivals, notes, record, sidecar
from studio.season.inbox import Inbox
from studio.stages import STAGES
from studio.technique.check import Check, Point

SAMPLE = Path(__file__).parents[2] / "sample_project" / "clip.mp4"
GOOD = Check(True, (Point("athlete", True, "seen"),), "Hi, your clip is just right.")
POOR = Check(False, (Point("steady", False, "it shakes", "Use a stand."),), "Hi, use a stand.")


@pytest.fixture
def places(tmp_path):
    (tmp_path / "in").mkdir()
    return tmp_path / "in", tmp_path / "to"


@pytest.fixture
def verdicts(monkeypatch):
    """What the check is to say, by the alias; "fit" for the others. Counts the checks."""
    said = {"count": 0}

    def verdict(self, folder, clip, told):
        said["count"] += 1
        assert clip.is_file()
        return said.get(told.alias, GOOD)

    monkeypatch.setattr(Inbox, "_verdict", verdict)
    return said


def once(places, settle_s=0.01):
    return {t.name: t for t in Inbox(*places).once(settle_s)}


def put(folder, name, clip, *, told="", extra=b""):
    (folder / name).write_bytes(clip.read_bytes() + extra)
    if told:
        (folder / f"{name}.toml").write_text(told)


def state(folder):
    """Everything in a folder: names, bytes, times of change."""
    return {
        p.name: (p.read_bytes() if p.is_file() else b"", p.lstat().st_mtime_ns)
        for p in folder.iterdir()
        if p.is_symlink() or p.is_file()
    }


def test_an_inbox_of_good_and_bad_clips(places, tiny_clip):
    """The real check: a fit clip, one too short, one of nobody, one cut off, two that are none."""
    folder, to = places
    shutil.copyfile(SAMPLE, folder / "IMG_0001.mp4")
    (folder / "IMG_0001.mp4.toml").write_text(
        'alias = "Tobias"\nconsent = "yes"\nheight_cm = 190\nlevel = "elite"\n'
    )
    short = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-t", "1.5", "-i", str(SAMPLE),
             "-vf", "scale=480:-2", str(folder / "short.mov")]  # fmt: skip
    subprocess.run(short, check=True, stdin=subprocess.DEVNULL)
    shutil.copyfile(tiny_clip, folder / "nobody.mp4")
    (folder / "words.mp4").write_text("these are words")
    (folder / "list.mp4").write_text("#EXTM3U\n#EXTINF:9,\n/etc/passwd\n#EXT-X-ENDLIST\n")
    (folder / "cut.mp4").write_bytes(SAMPLE.read_bytes()[:300_000])
    before = state(folder)
    args = ["inbox", str(folder), "--to", str(to), "--settle", "0.05", "--weights", "full"]
    result = CliRunner().invoke(cli, args)
    assert result.exit_code == 0, result.output
    outcomes = {}
    for line in result.stdout.splitlines()[:-1]:
        outcome, name = line.split(" (")[0].split(": ")
        outcomes.setdefault(outcome, set()).add(name)
    assert outcomes == {
        "taken": {"IMG_0001.mp4"},
        "sent back": {"short.mov", "nobody.mp4", "words.mp4", "list.mp4", "cut.mp4"},
    }
    assert state(folder) == before

    (episode,) = [p for p in to.iterdir() if (p / "episode.toml").exists()]
    assert episode.name.startswith("tobias-")
    athlete = load_settings(episode).athlete
    assert (athlete.alias, athlete.consent, athlete.height_cm, athlete.level) == (
        "Tobias", "yes", 190, "elite")  # fmt: skip
    assert (episode / "clip.mp4").read_bytes() == SAMPLE.read_bytes()
    assert tomllib.loads((episode / "clip.toml").read_text())["consent"] == "yes"
    # what the check rests on need not be measured again
    from studio.episode import open_episode

    assert make(open_episode(episode), STAGES, until="technique") == []

    letters = {p.name.rsplit("-", 1)[0]: p.read_text() for p in (to / "notes").iterdir()}
    assert letters.keys() == {"img-0001-mp4", "short-mov", "nobody-mp4", "words-mp4", "list-mp4",
                              "cut-mp4"}  # fmt: skip
    assert "cut short on its way" in letters["cut-mp4"]
    assert letters["img-0001-mp4"].startswith("Hi Tobias, thank you, your clip is just right")
    assert "three" in letters["short-mov"]
    assert "could not be opened" in letters["list-mp4"]
    assert not any(str(to) in letter for letter in letters.values())

    again = CliRunner().invoke(cli, args)
    assert again.stdout.splitlines() == ["Clips dealt with: none new."]


def test_consent_that_is_not_given_is_none_and_nothing_is_made_up(places, verdicts, tiny_clip):
    folder, _ = places
    put(folder, "Jane Doe.mp4", tiny_clip)
    (taken,) = once(places).values()
    athlete = load_settings(taken.folder).athlete
    assert (athlete.alias, athlete.consent, athlete.height_cm) == ("", "no", 0)
    assert notes.BLURRED.strip() in taken.note.read_text()
    assert taken.folder.name.startswith("athlete-")  # not the name of the file


@pytest.mark.parametrize(
    ("told", "result"),
    [
        ('alias = "Kim"\nconsent = "yes"\nunder_18 = true\n', "waits"),
        ('consent = "yes"\nunder_18 = true\nguardian_consent = "no"\n', "waits"),
        ('consent = "yes"\nunder_18 = true\nguardian_consent = "yes"\n', "yes"),
        ('consent = "no"\nunder_18 = true\nguardian_consent = "yes"\n', "no"),
        ('consent = "unknown"\n', "no"),
        ("consent = true\n", "waits"),
        ('concent = "yes"\n', "waits"),
        ('consent = "yes\n', "waits"),
        ('alias = "a\\nb"\n', "waits"),
        ("height_cm = 20\n", "waits"),
    ],
)
def test_what_is_said_of_a_clip(places, verdicts, tiny_clip, told, result):
    folder, to = places
    put(folder, "a.mp4", tiny_clip, told=told)
    (taken,) = once(places).values()
    if result == "waits":
        assert taken.result == "waits"
        assert taken.folder is None
        assert verdicts["count"] == 0
        assert not list(to.rglob("*.mp4"))
    else:
        athlete = load_settings(taken.folder).athlete
        assert athlete.consent == result
        assert athlete.under_18 == ("under_18" in told)


def test_a_guardian_who_agrees_later_sets_the_clip_free(places, verdicts, tiny_clip):
    folder, _ = places
    put(folder, "a.mp4", tiny_clip, told="under_18 = true\n")
    (taken,) = once(places).values()
    assert "guardian" in taken.note.read_text()
    assert once(places) == {}
    (folder / "a.mp4.toml").write_text('under_18 = true\nguardian_consent = "yes"\n')
    assert once(places)["a.mp4"].result == "taken"


def test_a_later_no_counts_at_once_and_a_later_yes_is_for_the_coach(places, verdicts, tiny_clip):
    folder, _ = places
    put(folder, "a.mp4", tiny_clip, told='consent = "no"\n')
    episode = once(places)["a.mp4"].folder
    (folder / "a.mp4.toml").write_text('consent = "yes"\n')
    assert "look over its episode.toml" in once(places)["a.mp4"].reason
    assert load_settings(episode).athlete.consent == "no"
    text = (episode / "episode.toml").read_text()
    (episode / "episode.toml").write_text(text.replace('consent = "no"', 'consent = "yes"'))
    (folder / "a.mp4.toml").write_text('consent = "no"\nlevel = "club"\n')
    assert "taken back" in once(places)["a.mp4"].reason
    assert load_settings(episode).athlete.consent == "no"
    (folder / "a.mp4.toml").write_text('consent = "yes"\nunder_18 = true\n')
    assert "guardian has not agreed" in once(places)["a.mp4"].reason


def test_the_same_clip_is_never_dealt_with_twice(places, verdicts, tiny_clip):
    folder, to = places
    put(folder, "a.mp4", tiny_clip, told='alias = "Robin"\nconsent = "yes"\n')
    assert once(places)["a.mp4"].result == "taken"
    assert once(places) == {}
    put(folder, "a (2).mp4", tiny_clip)
    assert once(places)["a (2).mp4"].result == "again"
    (folder / "a.mp4").touch()
    assert once(places)["a.mp4"].result == "again"
    assert verdicts["count"] == 1
    (episode,) = to.glob("robin-*")
    assert (
        load_settings(episode).athlete.consent == "yes"
    )  # the copy without words takes no consent
    put(folder, "a.mp4", tiny_clip, extra=b"another take")
    assert once(places)["a.mp4"].result == "taken"


def test_a_clip_that_is_not_fit_leaves_only_its_note(places, verdicts, tiny_clip):
    folder, to = places
    verdicts["Al"] = POOR
    put(folder, "a.mp4", tiny_clip, told='alias = "Al"\n')
    (taken,) = once(places).values()
    assert (taken.result, taken.reason) == ("sent back", "steady: it shakes")
    assert taken.note.read_text() == "Hi, use a stand.\n"
    assert [p.name for p in to.iterdir() if p.is_dir()] == ["notes"]
    assert once(places) == {}


def test_a_file_counts_once_it_no_longer_changes(tmp_path):
    path, empty = tmp_path / "a.mp4", tmp_path / "empty.mp4"
    path.write_bytes(b"12")
    empty.touch()
    first = arrivals.look(tmp_path)
    path.write_bytes(b"1234")
    second = arrivals.look(tmp_path)
    assert arrivals.arrived(first, second) == {}
    assert set(arrivals.arrived(second, arrivals.look(tmp_path))) == {path}


def test_a_folder_that_goes_away_is_said(places):
    inbox = Inbox(*places)
    places[0].rmdir()
    with pytest.raises(MediaError, match="taken away"):
        next(inbox.watch(0.01))


def test_a_clip_that_changes_while_it_is_read_waits_for_the_next_pass(
    places, verdicts, tiny_clip, monkeypatch
):
    folder, _ = places
    put(folder, "a.mp4", tiny_clip)
    real = arrivals.copied

    def growing(source, target):
        digest = real(source, target)
        with source.open("ab") as file:
            file.write(b"more")
        return digest

    monkeypatch.setattr(arrivals, "copied", growing)
    assert once(places)["a.mp4"].result == "arriving"
    monkeypatch.setattr(arrivals, "copied", real)
    assert once(places)["a.mp4"].result == "taken"


def test_watching_takes_what_comes_and_says_each_thing_once(places, verdicts, tiny_clip):
    folder, _ = places
    put(folder, "bad.mp4", tiny_clip, told="nonsense\n")
    watch = Inbox(*places).watch(0.01)
    assert next(watch).name == "bad.mp4"
    put(folder, "good.mp4", tiny_clip)
    assert next(watch).name == "good.mp4"  # not bad.mp4 once more
    watch.close()


ODD = ["-i.mp4", "$(touch x).mp4", "two\nlines\x1b[2J.mp4", "a..mp4", "ü 美咲 🚣.mp4",
       "a;b|c&d.mp4", "x" * 240 + ".mp4", "CON.mp4", "file:http:x.mp4"]  # fmt: skip


def test_odd_names_do_no_harm(places, verdicts, tiny_clip):
    folder, to = places
    for i, name in enumerate(ODD):
        put(folder, name, tiny_clip, extra=b"%d" % i)
    raw = os.fsencode(folder) + b"/\xff\xfe.mp4"
    with open(raw, "wb") as file:  # noqa: PTH123 - a name that is no text
        file.write(tiny_clip.read_bytes() + b"raw")
    (folder / "link.mp4").symlink_to("/etc/passwd")
    (folder / "dir.mp4").mkdir()
    os.mkfifo(folder / "pipe.mp4")
    (folder / "half.mp4.part").write_bytes(b"half")
    (folder / ".hidden.mp4").write_bytes(b"hidden")
    (folder / "readme.pdf").write_bytes(b"no clip")
    before = state(folder)
    result = CliRunner().invoke(cli, ["inbox", str(folder), "--to", str(to), "--settle", "0.05"])
    assert result.exit_code == 0, result.output
    assert f"{len(ODD) + 1} taken" in result.output
    assert "1 left" in result.output
    assert "\x1b" not in result.output
    assert state(folder) == before
    for path in to.rglob("*"):
        assert path.resolve().is_relative_to(to)
        assert len(path.name.encode()) < 200
        assert path.name.isprintable()
    assert once(places) == {}


def test_a_hostile_alias_is_only_a_word(places, verdicts, tiny_clip):
    folder, to = places
    put(folder, "a.mp4", tiny_clip, told='alias = "../../<b>&\\"x"\n')
    (taken,) = once(places).values()
    assert taken.folder.parent == to
    assert load_settings(taken.folder).athlete.alias == '../../<b>&"x'


def test_one_clip_that_breaks_the_check_does_not_stop_the_rest(places, verdicts, tiny_clip):
    folder, to = places
    put(folder, "a.mp4", tiny_clip, told='alias = "Al"\n', extra=b"a")
    put(folder, "b.mp4", tiny_clip, extra=b"b")
    verdicts["Al"] = None  # nothing to be expected of a check
    results = once(places)
    assert (results["a.mp4"].result, results["b.mp4"].result) == ("failed", "taken")
    verdicts["Al"] = GOOD
    assert once(places)["a.mp4"].result == "taken"  # tried again
    assert len(list(to.glob("*-*/episode.toml"))) == 2


def test_a_pass_that_is_killed_leaves_nothing_behind(places, verdicts, tiny_clip, monkeypatch):
    folder, to = places
    put(folder, "a.mp4", tiny_clip)
    (to / "someone's own").mkdir(parents=True)
    with monkeypatch.context() as patched:
        patched.setattr(shutil, "rmtree", lambda *_, **__: None)

        def killed(*_):
            raise KeyboardInterrupt

        patched.setattr(Inbox, "_verdict", killed)
        with pytest.raises(KeyboardInterrupt):
            once(places)
    assert len(list(to.glob("athlete-*"))) == 1
    (folder / "a.mp4").unlink()
    assert once(places) == {}
    assert list(to.glob("athlete-*")) == []
    assert (to / "someone's own").is_dir()


def test_a_sidecar_that_could_be_of_two_clips_is_of_neither(places, verdicts, tiny_clip):
    folder, _ = places
    (folder / "a.toml").write_text('alias = "Robin"\nconsent = "yes"\n')
    put(folder, "a.mp4", tiny_clip)
    assert sidecar.beside(folder / "a.mp4") == folder / "a.toml"
    put(folder, "a.mov", tiny_clip, extra=b"x")
    assert {t.result for t in once(places).values()} == {"waits"}


def test_a_long_clip_is_sent_back_unmeasured(places, verdicts, tiny_clip, monkeypatch):
    monkeypatch.setattr(notes, "LONGEST_S", 0.5)
    folder, _ = places
    put(folder, "a.mp4", tiny_clip)
    (taken,) = once(places).values()
    assert taken.result == "sent back"
    assert verdicts["count"] == 0
    assert "at most five minutes" in taken.note.read_text()


def test_two_inboxes_do_not_meet_and_a_damaged_record_is_no_empty_one(places, verdicts, tiny_clip):
    folder, to = places
    put(folder, "a.mp4", tiny_clip)
    with record.held(to), pytest.raises(OutputError, match="another inbox"):
        once(places)
    (to / "inbox.json").write_text("{")
    with pytest.raises(ConfigError, match="backup"):
        Inbox(*places)
    with pytest.raises(ConfigError, match="no such folder"):
        Inbox(folder / "none", to)
    with pytest.raises(ConfigError, match="another folder"):
        Inbox(folder, folder / "x" / "..")
