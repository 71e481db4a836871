"""CPU cost of drawing and blending each overlay into YUV planes, moving on every frame.

Run as `python -m benchmarks overlays [--size 1920x1080] [--frames 200]`. No kit is needed: cost
does not depend on the picture. CPU time of this process, one OpenCV thread, caches warm.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np

from overlays import (
    REGISTRY,
    AngleFan,
    Canvas,
    HandleTrail,
    LimbLines,
    Overlay,
    PhaseStrip,
    blend_yuv420,
    place,
)
from overlays.preview import JOINTS, Scene, sample

Make = Callable[[int], list[Overlay]]
WARM_UP = 20
BUDGET_MS = 3.0


def main(argv: list[str]) -> int:
    """Print milliseconds per frame; 1 when a whole frame is over the budget."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks overlays")
    parser.add_argument("--size", default="1920x1080")
    parser.add_argument("--frames", type=int, default=200)
    chosen = parser.parse_args(argv)
    width, height = map(int, chosen.size.split("x"))
    cv2.setNumThreads(1)
    scene = Scene(width, height)
    for name in sorted(REGISTRY):
        canvas = Canvas(width, height)
        still = sample(name, canvas)
        print(f"{name:<28}{cost(lambda _, one=still: [one], (width, height), 50):7.2f} ms")
    whole = cost(lambda n: frame(scene, n), (width, height), chosen.frames)
    print(f"{'three fans, limbs, trail, strip':<28}{whole:7.2f} ms (budget {BUDGET_MS:.1f})")
    print(f"{'placing their three plates':<28}{placing(scene, chosen.frames):7.2f} ms")
    return int(whole > BUDGET_MS)


def cost(make: Make, size: tuple[int, int], frames: int) -> float:
    """CPU milliseconds a frame to draw and blend what `make` gives for each frame number."""
    width, height = size
    half = ((height + 1) // 2, (width + 1) // 2)
    planes = tuple(np.full(shape, 110, np.uint8) for shape in ((height, width), half, half))
    spent = 0.0
    for number in range(WARM_UP + frames):
        drawn = make(number)
        start = time.process_time()
        canvas = Canvas(width, height)
        for overlay in drawn:
            overlay.draw(canvas)
        blend_yuv420(planes, canvas.marks)
        if number >= WARM_UP:
            spent += time.process_time() - start
    return 1000 * spent / frames


def frame(scene: Scene, number: int) -> list[Overlay]:
    """A busy moving frame: joints tremble, numbers change, the handle and the moment move on."""
    at = {name: _moved(scene.joint(name), number) for name in JOINTS}
    chain = [at[name] for name in ("shoulder", "hip", "knee", "ankle", "toe")]
    arm = [at[name] for name in ("shoulder", "elbow", "wrist")]
    strip = PhaseStrip(drive_s=0.9, recovery_s=1.6, now_s=number / 30 % 2.5)
    trail = HandleTrail(points=scene.trail() + (number % 5))
    plated = [replace(fan, plate=(80.0 + 300 * i, 90.0)) for i, fan in enumerate(fans(at, number))]
    return [LimbLines(chains=(chain, arm)), trail, strip, *plated]


def fans(at: dict[str, tuple[float, float]], number: int) -> list[AngleFan]:
    """Three fans whose numbers change over ten values."""
    step = number % 10
    return [
        AngleFan(vertex=at["hip"], tip=at["shoulder"], text=f"lean {20 + step}°"),
        AngleFan(vertex=at["ankle"], tip=at["knee"], text=f"shin {step + 1}° short"),
        AngleFan(
            vertex=at["elbow"],
            tip=at["wrist"],
            reference=at["shoulder"],
            text=f"elbow {160 + step}°",
        ),
    ]


def placing(scene: Scene, frames: int) -> float:
    """CPU milliseconds a frame to place the three plates."""
    canvas, previous = Canvas(scene.width, scene.height), None
    start = time.process_time()
    for number in range(frames):
        at = {name: _moved(scene.joint(name), number) for name in JOINTS}
        made = fans(at, number)
        previous = place(
            [fan.plate_wish(canvas, str(i)) for i, fan in enumerate(made)],
            size=(scene.width, scene.height),
            lines=[line for fan in made for line in fan.lines(canvas)],
            previous=previous,
        )
    return 1000 * (time.process_time() - start) / frames


def _moved(point: tuple[float, float], number: int) -> tuple[float, float]:
    return point[0] + 3 * np.sin(number * 0.7), point[1] + 2 * np.cos(number)
