"""`python -m overlays [NAME]`: list the overlays, or write a picture of one."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np

from overlays import REGISTRY, Canvas, blend_bgr
from overlays.canvas import Pixels
from overlays.preview import background, sample


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; returns 0, or 2 for wrong usage."""
    parser = argparse.ArgumentParser(
        prog="python -m overlays", description="List the overlays, or write a picture of one."
    )
    parser.add_argument("name", nargs="?", choices=sorted(REGISTRY), metavar="NAME")
    parser.add_argument("--size", type=_size, default=None, help="WIDTHxHEIGHT, default 1280x720")
    parser.add_argument("--out", type=Path, help="picture to write, default NAME.png")
    parser.add_argument("--background", type=Path, help="picture to draw over")
    chosen = parser.parse_args(arguments)
    if chosen.name is None:
        for name, kind in sorted(REGISTRY.items()):
            print(f"{name:<16} {(kind.__doc__ or '').splitlines()[0]}")  # noqa: T201
        return 0
    picture = _backdrop(parser, chosen.background, chosen.size)
    canvas = Canvas(picture.shape[1], picture.shape[0])
    sample(chosen.name, canvas).draw(canvas)
    blend_bgr(picture, canvas.marks)
    out = chosen.out or Path(f"{chosen.name}.png")
    # Written by Python, since OpenCV reports a path it cannot write only as False.
    out.write_bytes(cv2.imencode(".png", picture)[1].tobytes())
    print(out)  # noqa: T201
    return 0


def _backdrop(
    parser: argparse.ArgumentParser, path: Path | None, size: tuple[int, int] | None
) -> Pixels:
    if path is None:
        return background(*(size or (1280, 720)))
    picture = cv2.imread(str(path), cv2.IMREAD_COLOR) if path.exists() else None
    if picture is None:
        parser.error(f"{path}: cannot be read as a picture; give a PNG or JPEG file")
    if size is not None:
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    return np.asarray(picture, np.uint8)


def _size(text: str) -> tuple[int, int]:
    width, _, height = text.partition("x")
    try:
        size = int(width), int(height)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not WIDTHxHEIGHT, such as 1280x720"
        ) from None
    if min(size) < 16 or max(size) > 8192:
        raise argparse.ArgumentTypeError("sides must be 16 to 8192 pixels")
    return size


if __name__ == "__main__":
    sys.exit(main())
