"""`python -m studio.review.worker DIR`: a make that tells its progress as JSON lines on stdout."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

EVERY_S = 0.2


class Lines:
    """Progress as JSON lines: {"label", "share"} or {"note"}; at most five shares a second."""

    def __init__(self) -> None:
        self._label, self._total, self._at, self._told = "", 0.0, 0.0, 0.0

    def start(self, label: str, total: float | None, unit: str) -> None:
        """Tell the label."""
        self._label, self._total, self._at = label, total or 0.0, 0.0
        self._tell()

    def advance(self, amount: float = 1) -> None:
        """Tell the share done, now and then."""
        self._at += amount
        if time.monotonic() - self._told > EVERY_S:
            self._tell()

    def note(self, text: str) -> None:
        """Tell a sentence."""
        say({"note": text})

    def finish(self) -> None:
        """Nothing to tell: the next piece of work begins."""

    def _tell(self) -> None:
        self._told = time.monotonic()
        share = min(1.0, self._at / self._total) if self._total else None
        say({"label": self._label, "share": share})


def say(what: dict[str, object]) -> None:
    """One line, at once."""
    sys.stdout.write(json.dumps(what) + "\n")
    sys.stdout.flush()


def main(folder: Path) -> int:
    """Make the episode; returns the exit code of the command line."""
    from studio.episode import open_episode
    from studio.errors import LaunchsideError
    from studio.interrupt import leave_promptly
    from studio.pipeline import make
    from studio.stages import STAGES

    leave_promptly()
    try:
        make(open_episode(folder), STAGES, progress=Lines())
    except LaunchsideError as error:
        say({"error": str(error)})
        return error.exit_code
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # the desk is gone
        return 130
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
