"""Ctrl-C ends a command within two seconds, also while a library computes and does not listen."""

from __future__ import annotations

import os
import signal
import threading

from studio.watchdog import end_now

LEAVE = "Interrupted. Run the same command again to go on where it stopped."
GRACE_S = 0.5
"""For the command to end by itself, closing what it has open."""


def leave_promptly() -> None:
    """From now on an interrupt (SIGINT, SIGTERM) ends the process after `GRACE_S` at the latest.

    Python tells the main thread of a signal only between two of its steps, and one step may be
    half a minute of transcription. The signal's number also goes down a pipe at once, which a
    thread reads. Results are written aside and renamed, so ending hard leaves nothing half-made.
    """
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    signal.set_wakeup_fd(writer, warn_on_full_buffer=False)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    console = os.dup(2)  # file descriptor 2 itself leads nowhere while a library is silenced
    threading.Thread(target=_wait, args=(reader, console), daemon=True).start()


def _wait(reader: int, console: int) -> None:
    while os.read(reader, 1)[0] not in (signal.SIGINT, signal.SIGTERM):
        pass
    threading.Event().wait(GRACE_S)
    os.write(console, f"{LEAVE}\n".encode())
    end_now(130)
