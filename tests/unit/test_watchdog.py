"""Work that does not move is ended; work that moves or computes is left alone."""

import os
import subprocess
import sys
import time

import psutil
import pytest

from studio.errors import StallError
from studio.progress import Quiet
from studio.watchdog import Patience, Watched, watchdog

SHORT = Patience(idle_s=0.4, busy_s=1.5, grace_s=0.3)


def naps(seconds, step_s=0.02):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        time.sleep(step_s)


def computes(seconds):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        sum(range(1000))


def test_idle_work_is_stopped_where_it_is():
    stalled = pytest.raises(StallError, match=r"^pose: nothing has moved")
    with stalled as raised, watchdog("pose", Watched(Quiet()), SHORT):
        naps(20)
    assert raised.value.exit_code == 9


def test_a_loop_without_an_end_is_stopped_later():
    began = time.monotonic()
    with pytest.raises(StallError), watchdog("pose", Watched(Quiet()), SHORT):
        computes(20)
    assert time.monotonic() - began > SHORT.busy_s


def test_a_sign_of_life_is_enough():
    progress = Watched(Quiet())
    with watchdog("pose", progress, SHORT):
        for _ in range(8):
            naps(0.1)
            progress.advance()


def test_computing_without_progress_is_enough_for_a_while():
    with watchdog("pose", Watched(Quiet()), SHORT):
        computes(0.9)


def test_other_errors_pass_through():
    with pytest.raises(KeyError), watchdog("pose", Watched(Quiet()), SHORT):
        raise KeyError("mine")


def test_work_stuck_in_a_library_ends_the_process_and_its_children():
    program = """
import subprocess, sys, time
from studio.progress import Quiet, silenced
from studio.watchdog import Patience, Watched, watchdog
child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
print(child.pid, flush=True)
with watchdog("pose", Watched(Quiet()), Patience(0.4, 1.5, 0.3)), silenced():
    time.sleep(60)
"""
    # Python 3.11 never leaves a traced call while another thread has an exception to come, so the
    # coverage that the tests run under stays out of this process
    untraced = {name: v for name, v in os.environ.items() if not name.startswith("COVERAGE_")}
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, timeout=20, check=False,
        env=untraced,
    )  # fmt: skip
    assert done.returncode == 9
    assert "pose: nothing has moved" in done.stderr
    assert ended(int(done.stdout))


def ended(pid):
    """Whether a process that was killed is gone within five seconds: the kernel takes its time."""
    end = time.monotonic() + 5
    while time.monotonic() < end:
        if not psutil.pid_exists(pid) or psutil.Process(pid).status() == psutil.STATUS_ZOMBIE:
            return True
        time.sleep(0.02)
    return False
