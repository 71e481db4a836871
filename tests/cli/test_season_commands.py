"""The season's commands as a person runs them."""

import os
import shutil
import signal
import subprocess
import sys
import time

import psutil
import pytest

from tests.season_scene import talk_episode

LAUNCHSIDE = [sys.executable, "-m", "studio.cli.main"]


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    root = tmp_path_factory.mktemp("season")
    first = talk_episode(root / "e1", 1)
    for number in range(2, 7):
        shutil.copytree(first, root / f"e{number}")
    return root


@pytest.mark.parametrize("send", [os.kill, os.killpg])  # from elsewhere, and Ctrl-C in a terminal
def test_an_interrupted_batch_ends_at_once_and_goes_on_where_it_stopped(season, send):
    plain = {k: v for k, v in os.environ.items() if k != "LAUNCHSIDE_DEBUG"}
    command = [*LAUNCHSIDE, "batch", str(season), "--workers", "2"]
    run = subprocess.Popen([*command, "--force"], text=True, stdout=subprocess.PIPE,
                           stderr=subprocess.PIPE, env=plain, start_new_session=True)  # fmt: skip
    with run:
        first = run.stderr.readline()
        family = psutil.Process(run.pid).children(recursive=True)
        send(run.pid, signal.SIGINT)
        start = time.monotonic()
        rest = run.communicate(timeout=30)[1]
    assert time.monotonic() - start < 5  # 2 s on a computer that is not busy
    assert first.startswith("1/6 ")
    assert run.returncode == 130
    assert rest.splitlines()[-1].startswith("Interrupted. Run the same command again")
    assert "Traceback" not in rest
    gone, alive = psutil.wait_procs(family, timeout=5)
    assert len(gone) >= 2
    assert not alive
    again = subprocess.run(command, text=True, capture_output=True, env=plain, check=False)
    assert again.returncode == 0, again.stderr
    assert again.stdout.splitlines()[-1].endswith("0 failed.")
    assert "fresh" in again.stdout
    assert not list(season.rglob(".aside-*"))


def test_a_watched_inbox_answers_what_comes_until_it_is_interrupted(tmp_path):
    inbox = tmp_path / "in"
    inbox.mkdir()
    plain = {k: v for k, v in os.environ.items() if k != "LAUNCHSIDE_DEBUG"}
    command = [*LAUNCHSIDE, "inbox", str(inbox), "--watch", "--settle", "0.1"]
    run = subprocess.Popen(command, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                           env=plain, start_new_session=True)  # fmt: skip
    with run:
        for name in ("one.mp4", "two.mp4"):
            (inbox / name).write_text(f"no video: {name}")
            assert run.stdout.readline().startswith(f"sent back: {name} (")
        run.send_signal(signal.SIGINT)
        out, rest = run.communicate(timeout=30)
    assert run.returncode == 130
    assert out == ""
    assert rest.strip() == "Interrupted. Run the same command again to go on where it stopped."
    assert len(list((tmp_path / "in-episodes" / "notes").iterdir())) == 2
