"""Golden pictures of every overlay.

After a wanted change of the look: `python -m tests.golden.test_overlays_golden`, then look at the
pictures.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from overlays import REGISTRY, Canvas, NumberPlate, blend_bgr
from overlays.__main__ import main
from overlays.preview import background

FOLDER = Path(__file__).parent / "overlays"
LYING, UPRIGHT = "480x270", "270x480"
CASES = [(name, LYING) for name in sorted(REGISTRY)] + [
    (name, UPRIGHT) for name in ("angle_fan", "callout", "caption", "side_by_side", "title_card")
]
MEAN, SHARE = 4.0, 0.04
"""Of the pixels an overlay touches: mean level difference, and share off by more than 24 levels,
still called the same. Other builds of FreeType and OpenCV round edges otherwise."""


def path_of(name: str, size: str) -> Path:
    return FOLDER / f"{name}_{size}.png"


def draw(name: str, size: str, folder: Path) -> np.ndarray:
    out = folder / f"{name}.png"
    assert main([name, "--size", size, "--out", str(out)]) == 0
    picture = cv2.imread(str(out))
    assert picture is not None
    return np.asarray(picture)


def alike(one: np.ndarray, other: np.ndarray) -> bool:
    plain = background(one.shape[1], one.shape[0])
    touched = ((one != plain) | (other != plain)).any(axis=2)
    off = np.abs(one.astype(int) - other.astype(int)).max(axis=2)[touched]
    return bool(len(off) and off.mean() <= MEAN and (off > 24).mean() <= SHARE)


@pytest.mark.parametrize(("name", "size"), CASES)
def test_looks_as_agreed(name: str, size: str, tmp_path: Path) -> None:
    golden = cv2.imread(str(path_of(name, size)))
    assert golden is not None, "no golden picture; see the top of this file"
    assert alike(draw(name, size, tmp_path), np.asarray(golden))


def test_a_shifted_or_missing_overlay_is_noticed(tmp_path: Path) -> None:
    """The tolerance is tight enough: a plate moved by 4 pixels, or left out, is another picture."""

    def plate(x: float) -> np.ndarray:
        image, canvas = background(480, 270), Canvas(480, 270)
        NumberPlate(text="layback 25°", corner=(x, 45.0), accent="change").draw(canvas)
        blend_bgr(image, canvas.marks)
        return image

    assert alike(plate(24), plate(24))
    assert not alike(plate(24), plate(28))
    assert not alike(plate(24), background(480, 270))


def test_every_golden_is_used() -> None:
    assert {path.name for path in FOLDER.glob("*.png")} == {path_of(*case).name for case in CASES}


def test_lists_every_overlay(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines] == sorted(REGISTRY)
    assert all(len(line.split()) > 3 for line in lines)


@pytest.mark.parametrize(
    "arguments",
    [
        ["no_such"],
        ["caption", "--size", "big"],
        ["caption", "--size", "4x4"],
        ["caption", "--background", "missing.png"],
    ],
)
def test_wrong_usage_is_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code == 2
    assert capsys.readouterr().err


def test_draws_over_a_picture_of_ones_own(tmp_path: Path) -> None:
    picture = np.full((90, 160, 3), 77, np.uint8)
    cv2.imwrite(str(tmp_path / "own.png"), picture)
    out = tmp_path / "out.png"
    assert main(["draft_mark", "--background", str(tmp_path / "own.png"), "--out", str(out)]) == 0
    made = cv2.imread(str(out))
    assert made is not None
    assert made.shape == picture.shape
    assert (made[-30:] == 77).all()
    assert (made != 77).any()


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for case in CASES:
        main([case[0], "--size", case[1], "--out", str(path_of(*case))])
