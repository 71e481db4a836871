"""Where the measured material lies."""

import argparse
from pathlib import Path

DEFAULT = Path(__file__).resolve().parents[2] / "shared" / "kit"


def parser(doc: str) -> argparse.ArgumentParser:
    """An argument parser with `--kit`."""
    made = argparse.ArgumentParser(description=doc)
    made.add_argument("--kit", type=Path, default=DEFAULT, help="folder of clips with their truth")
    return made
