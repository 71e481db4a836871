"""Nothing is lost when things break: kills, damage, a second make, a full disk.

The episode is whole and real, only small; what is made after every break must be what an
undisturbed make gives: the same bytes of every text, the same frames of every picture.
"""

import os
import random
import shutil
import signal
import subprocess
import sys
import time

import av
import pytest

from studio.episode import locked, open_episode
from studio.store import ASIDE
from tests import small_episode
from tests.small_episode import contents

CORRECTIONS = """# by hand
[[chapters]]
action = "rename"  # the coach's own words
recording_s = 0.0
title = "Shins first"
"""
PLAIN = {name: value for name, value in os.environ.items() if name != "LAUNCHSIDE_DEBUG"}
MAKE = [sys.executable, "-m", "studio.cli.main", "make"]


def make(folder, *options):
    """Run it, to whatever end."""
    return subprocess.run(
        [*MAKE, *options, str(folder)], capture_output=True, text=True, env=PLAIN, check=False
    )


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """An episode made in one go, and what it then held."""
    folder = small_episode.build(tmp_path_factory.mktemp("whole") / 'an episode\'s "folder" 🚣')
    (folder / "corrections.toml").write_text(CORRECTIONS)
    assert make(folder).returncode == 0
    return folder, contents(folder)


@pytest.fixture
def episode(whole):
    """That episode; checked afterwards to be whole again, with the coach's corrections kept."""
    folder, undisturbed = whole
    yield folder
    assert make(folder).returncode == 0
    assert contents(folder) == undisturbed
    assert not list(folder.rglob(f"{ASIDE}*"))
    assert (folder / "corrections.toml").read_text() == CORRECTIONS


def stages_run(folder):
    """Names of the stages that a make finds stale."""
    done = make(folder)
    assert done.returncode == 0, done.stderr
    return [line.split()[0] for line in done.stderr.splitlines() if line.endswith(")")]


def test_killed_again_and_again_it_goes_on_and_gives_the_same(episode):
    shutil.rmtree(episode / "work")
    shutil.rmtree(episode / "out")
    chance = random.Random(20)
    for _ in range(4):
        process = subprocess.Popen([*MAKE, "-q", str(episode)], env=PLAIN)
        time.sleep(chance.uniform(1.0, 4.0))
        process.send_signal(signal.SIGKILL)
        process.wait()


def test_what_a_killed_run_left_is_swept_up(episode):
    for folder in (episode / "work", episode / "out" / "stills"):
        (folder / f"{ASIDE}x.mp4").write_bytes(b"half")
    assert stages_run(episode) == []


def test_a_second_make_is_refused_while_the_first_is_at_work(episode):
    with locked(open_episode(episode)):
        done = make(episode)
    assert done.returncode == 6
    assert "another make is at work" in done.stderr


def damaged(path, how):
    data = bytearray(path.read_bytes())
    if how == "cut":
        path.write_bytes(data[: len(data) // 2])
    elif how == "flipped":
        data[len(data) // 2] ^= 0x10
        path.write_bytes(data)
    elif how == "emptied":
        path.write_bytes(b"")
    else:
        path.unlink()


@pytest.mark.parametrize("how", ["cut", "flipped", "emptied", "gone"])
def test_a_damaged_result_is_noticed_and_remade(episode, how):
    for name in ("technique.npz", "outline.json", "plan.json"):
        damaged(episode / "work" / name, how)
    for name in ("captions.vtt", "summary.md", "timeline.otio"):
        damaged(episode / "out" / name, how)
    ran = stages_run(episode)
    assert {"technique", "outline", "plan", "texts", "timeline"} <= set(ran)
    assert "pose" not in ran
    assert "playhead" not in ran


@pytest.mark.parametrize("text", ["", "{", "[]", '{"key": 3}', "\x00" * 50])
def test_a_damaged_record_only_costs_time(episode, text):
    (episode / "work" / "keys" / "plan.json").write_text(text)
    (episode / "work" / "keys" / "sources.json").write_text(text)
    assert "plan" in stages_run(episode)


def test_a_full_disk_is_said_and_nothing_half_made_is_left(episode):
    before = contents(episode)
    (episode / "out" / "episode.mp4").unlink()
    # the size any file may reach stands in for the disk's end: the same refused write
    limited = ["bash", "-c", 'ulimit -f 200; trap "" XFSZ; exec "$@"', "bash"]
    run = [*limited, *MAKE, "-q", str(episode)]
    done = subprocess.run(run, capture_output=True, text=True, env=PLAIN, check=False)
    assert done.returncode == 6
    assert "cannot be written" in done.stderr
    assert done.stderr.count("\n") == 1
    assert not (episode / "out" / "episode.mp4").exists()
    assert {k: v for k, v in before.items() if k != "episode.mp4"} == contents(episode)


def test_a_new_chapter_title_renders_nothing_again(episode):
    (episode / "corrections.toml").write_text(CORRECTIONS.replace("Shins first", "Heels later"))
    before = (episode / "work" / "picture.mp4").stat().st_mtime_ns
    ran = stages_run(episode)
    assert {"plan", "texts", "episode"} <= set(ran)
    assert not {"picture", "sound", "stills"} & set(ran)
    assert (episode / "work" / "picture.mp4").stat().st_mtime_ns == before
    assert "Heels later" in (episode / "out" / "chapters.txt").read_text()
    with av.open(str(episode / "out" / "episode.mp4")) as container:
        assert "Heels later" in [c["metadata"]["title"] for c in container.chapters()]
    (episode / "corrections.toml").write_text(CORRECTIONS)
