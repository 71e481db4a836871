"""Fuzz the text readers with atheris (not a dependency: `pip install atheris` beside the rest).

    python -m tests.fuzz.run -max_total_time=600 FOLDER tests/fuzz/seeds

The first byte of an input chooses the reader; READER=captions in the environment settles on one.
New inputs go to FOLDER; one that breaks a reader is left in the working folder as crash-*: mend the
reader, and keep the input, made small, in seeds under a name that begins with the reader's.
"""

from __future__ import annotations

import os
import sys

import atheris

with atheris.instrument_imports(include=["studio", "pysrt", "tests.fuzz.targets"]):
    from tests.fuzz.targets import TARGETS

ORDER = sorted(TARGETS.keys() & {os.environ.get("READER", name) for name in TARGETS})


def one(data: bytes) -> None:
    """One input."""
    if data:
        TARGETS[ORDER[data[0] % len(ORDER)]](data[1:])


if __name__ == "__main__":
    atheris.Setup(sys.argv, one)
    atheris.Fuzz()
