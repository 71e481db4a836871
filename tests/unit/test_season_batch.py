"""Many episodes at once: the same on processes of this computer and on a cluster of our own."""

import hashlib
import itertools
import re
import shutil

import av
import psutil
import pytest
from click.testing import CliRunner

from studio.cli.batch import command
from studio.errors import ToolError
from studio.season.batch import exit_code, in_order, run
from studio.season.crew import Cluster, Local
from studio.season.folders import episodes_in, printable
from tests import small_episode
from tests.season_scene import dask_cluster, talk_episode
from tests.season_tasks import moody, watched

MANY = 12


@pytest.fixture(scope="module")
def cluster(tmp_path_factory):
    pytest.importorskip("dask.distributed", reason="needs the extra [batch]")
    with dask_cluster(tmp_path_factory.mktemp("dask"), workers=2, threads=2) as address:
        yield address


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    """Twelve small episodes, and beside them two that cannot be made."""
    root = tmp_path_factory.mktemp("season")
    first = talk_episode(root / "e01", 1)
    for number in range(2, MANY + 1):
        folder = root / f"e{number:02}"
        shutil.copytree(first, folder)
        text = (first / "episode.toml").read_text()
        (folder / "episode.toml").write_text(text.replace("Review 1", f"Review {number}"))
        (folder / "captions.srt").write_text(
            (first / "captions.srt").read_text().replace("strong", f"strong in take {number}")
        )
    shutil.copytree(first, root / "unknown setting")
    with (root / "unknown setting" / "episode.toml").open("a") as file:
        file.write("\n[sauce]\n")
    shutil.copytree(first, root / "no recording")
    (root / "no recording" / "recording.mp4").unlink()
    return root


def made(root):
    """What was made: file -> digest of its bytes, or of its decoded frames for a film."""
    found = {}
    for path in sorted(p for e in root.iterdir() for p in (e / "out").rglob("*") if p.is_file()):
        seen = hashlib.sha256()
        if path.suffix == ".mp4":
            with av.open(str(path)) as film:
                for frame in film.decode(video=0):
                    seen.update(f"{frame.pts} {frame.time_base} ".encode())
                    seen.update(frame.to_ndarray(format="yuv420p").tobytes())
        else:
            seen.update(path.read_bytes())
        found[str(path.relative_to(root))] = seen.hexdigest()
    return found


def cleared(root):
    for episode in root.iterdir():
        for part in ("work", "out"):
            shutil.rmtree(episode / part, ignore_errors=True)


def rows(output):
    """Episode -> outcome, as the table says."""
    lines = output[output.index("episode ") :].splitlines()[1:-1]
    cells = [re.split(r"\s{2,}", line) for line in lines]
    return {name: result for name, result, *_ in cells}


def test_two_local_workers_and_a_cluster_make_the_same(season, cluster):
    told = []
    for crew in (["--workers", "2"], ["--cluster", cluster]):
        cleared(season)
        result = CliRunner().invoke(command, [str(season), *crew])
        assert result.exception.exit_code == 3  # of the first that failed: no recording
        told.append((rows(result.output), made(season)))
    (local, local_files), (dask, dask_files) = told
    assert local == dask
    assert list(local.values()) == ["made"] * MANY + ["failed"] * 2
    assert len([n for n in local_files if n.endswith("episode.mp4")]) == MANY
    assert local_files == dask_files
    # each is its own episode, not one made twelve times
    assert len({local_files[f"e{n:02}/out/captions.srt"] for n in range(1, MANY + 1)}) == MANY


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_the_same_with_models(tmp_path, cluster):
    """Twelve episodes of a clip and a recording: the pose model is loaded in every worker."""
    for number in range(MANY):
        small_episode.build(tmp_path / f"e{number:02}", start_s=20.0 + 5 * number)
    told = []
    for crew in (["--workers", "2"], ["--cluster", cluster]):
        cleared(tmp_path)
        result = CliRunner().invoke(command, [str(tmp_path), *crew])
        assert result.exit_code == 0, result.output
        told.append(made(tmp_path))
    assert told[0] == told[1]
    assert len([n for n in told[0] if n.endswith("catch.png")]) == MANY


def test_what_is_done_is_not_done_again(season, cluster):
    CliRunner().invoke(command, [str(season), "--workers", "2"])
    (season / "e03" / "out" / "captions.srt").unlink()
    for crew in (["--workers", "1"], ["--cluster", cluster]):
        result = CliRunner().invoke(command, [*map(str, [season / "e02", season / "e03"]), *crew])
        assert result.exit_code == 0, result.output
        expected = "made" if crew[0] == "--workers" else "fresh"
        assert rows(result.output) == {"e02": "fresh", "e03": expected}
    assert "0 failed." in result.output


def test_errors_and_dead_workers_cost_only_their_own_episode(tmp_path):
    names = ["a", "raise", "b", "die 1", "c", "die 2", "d"]
    folders = [tmp_path / n for n in names]
    with Local(2) as crew:
        outcomes = in_order(folders, list(run(folders, crew, task=moody)))
    assert [o.folder.name for o in outcomes] == names
    assert {o.folder.name for o in outcomes if o.result == "failed"} == {"raise", "die 1", "die 2"}
    reasons = {o.folder.name: o.reason for o in outcomes}
    assert "ValueError: no raise" in reasons["raise"]
    assert "worker died" in reasons["die 1"]
    assert exit_code(outcomes) == 1


def kill_child(word, folder):
    """End the one program of ours that was started with this word, in this folder."""
    for child in psutil.Process().children():
        line = child.cmdline()
        if word in line and str(folder) in str(line):
            child.kill()


def test_a_cluster_that_goes_away_ends_the_run_with_a_word(tmp_path, monkeypatch):
    pytest.importorskip("dask.distributed", reason="needs the extra [batch]")
    monkeypatch.setattr("studio.season.batch.LOOK_S", 0.2)
    monkeypatch.setattr("studio.season.crew.AWAY_S", 0.5)
    folders = [tmp_path / f"e{n}" for n in range(40)]
    for victim in ("worker", "scheduler"):
        with dask_cluster(tmp_path / victim, workers=1) as address:
            outcomes = []

            def work(address=address, victim=victim, outcomes=outcomes):
                with Cluster(address) as crew:
                    for outcome in run(folders, crew, task=moody):
                        if not outcomes:
                            kill_child(victim, tmp_path)
                        outcomes.append(outcome)

            with pytest.raises(ToolError, match="gone") as caught:
                work()
        assert str(caught.value).startswith(address)
        assert outcomes[0].result == "made"
        assert len(outcomes) < len(folders)


class Greedy(Cluster):
    """Gives its workers more than one episode each."""

    def size(self):
        return 6


def test_one_episode_at_a_time_in_each_process(tmp_path, cluster):
    """So no worker holds two models, even one that may run two tasks at once."""
    for n in range(6):
        talk = tmp_path / f"e{n}"
        talk.mkdir()
        (talk / "episode.toml").write_text('[sources]\nclip = "c.mp4"\n')
    folders = episodes_in([tmp_path])
    for crew in (Local(2), Greedy(cluster)):
        with crew:
            outcomes = list(run(folders, crew, task=watched))
        assert all(o.result == "fresh" for o in outcomes), outcomes
        spans = {}
        for folder in folders:
            pid, start, end = (folder / "at.txt").read_text().split()
            spans.setdefault(pid, []).append((float(start), float(end)))
        for times in spans.values():
            times.sort()
            assert all(a[1] <= b[0] for a, b in itertools.pairwise(times))


def test_a_folder_stands_for_the_episodes_in_it_each_once(season):
    found = episodes_in([season / "e02", season, season / ".." / season.name / "e01"])
    assert [f.name for f in found][:2] == ["e02", "e01"]
    assert len(found) == MANY + 2
    assert episodes_in([season / "nothing here"]) == [season / "nothing here"]


def test_a_folder_that_is_no_episode_is_a_row_of_the_table(tmp_path):
    result = CliRunner().invoke(command, [str(tmp_path / "none"), "--workers", "1"])
    assert result.exception.exit_code == 7
    assert "not an episode folder" in result.output


def test_a_cluster_that_is_not_there_is_a_missing_tool(tmp_path, monkeypatch):
    monkeypatch.setattr("studio.season.crew.CONNECT_S", 0.5)
    for address in ("rubbish://x", "tcp://127.0.0.1:1"):
        result = CliRunner().invoke(command, [str(tmp_path), "--cluster", address])
        assert isinstance(result.exception, ToolError), result.output
        assert address in str(result.exception)


def test_names_cannot_command_the_terminal():
    assert printable("a\x1b[31m\nb") == "a [31m b"
    assert len(printable("x" * 999)) == 200
