"""`python -m benchmarks NAME [options]`: runs `benchmarks.NAME.main(options)`."""

import importlib
import pkgutil
import sys
from pathlib import Path


def main(argv: list[str]) -> int:
    """Run one benchmark, or list them."""
    names = [m.name for m in pkgutil.iter_modules([str(Path(__file__).parent)])]
    names = sorted(n for n in names if not n.startswith("_"))
    if not argv or argv[0] not in names:
        print("usage: python -m benchmarks NAME [--kit DIR]\nnames: " + ", ".join(names))
        return 2
    run = importlib.import_module(f"benchmarks.{argv[0]}").main
    return int(run(argv[1:]))


sys.exit(main(sys.argv[1:]))
