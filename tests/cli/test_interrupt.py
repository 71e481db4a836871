"""Ctrl-C and SIGTERM: out within two seconds with 130, whatever the program is in the middle of."""

import signal
import subprocess
import sys
import time

import pytest

BUSY = {
    # holds no lock, listens to nothing: Python would see the signal after an hour
    "inside a library": "import hashlib; hashlib.pbkdf2_hmac('sha256', b'a', b'b', 2**31 - 1)",
    "with its messages silenced": """
import hashlib
from studio.progress import silenced
with silenced():
    hashlib.pbkdf2_hmac('sha256', b'a', b'b', 2**31 - 1)""",
    "in a thread that is waited for": """
import threading, time
t = threading.Thread(target=time.sleep, args=(60,)); t.start(); t.join()""",
    "while a child works": "import subprocess; subprocess.run(['sleep', '60'])",
}


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("busy", BUSY.values(), ids=BUSY.keys())
def test_out_within_two_seconds(busy, how):
    program = "from studio.interrupt import leave_promptly\nleave_promptly()\n"
    program += "print('ready', flush=True)\n" + busy
    process = subprocess.Popen(
        [sys.executable, "-c", program], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    process.stdout.readline()
    time.sleep(0.2)
    began = time.monotonic()
    process.send_signal(how)
    said = process.communicate(timeout=20)[1]
    assert time.monotonic() - began < 2
    assert process.returncode in (130, -signal.SIGINT)  # the latter: bare Python's own way out
    if process.returncode == 130:
        assert "Run the same command again to go on" in said
