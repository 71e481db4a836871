"""Angles and drawn joints beside the truth, in degrees and pixels at 720p."""

import numpy as np

from benchmarks._clips import Case, case, clips, true_angles
from benchmarks._kit import parser
from studio.technique.angles import body_angles
from studio.technique.body import facing, near_mark
from studio.technique.models import heavy_weights

NAMES = ("trunk", "shin", "knee", "elbow")
JOINTS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")


def main(argv: list[str]) -> int:
    options = parser(__doc__)
    given = options.parse_args(argv)
    for weights in ["heavy", "full"] if heavy_weights() else ["full"]:
        print(f"\n{weights}: mean |error| (and bias), degrees: catch / finish / all frames")
        rows = []
        for path in clips(given.kit):
            one = case(path, weights)
            table, pixels = errors(one)
            rows.append((table, pixels, off_true(raw_angles(one), one)))
            print(f"{one.name:>16}  " + "  ".join(
                f"{n} " + " ".join(f"{mean:4.1f}({bias:+5.1f})" for mean, bias in cells)
                for n, cells in table.items())
                + f"  px {np.median(pixels):.1f} p95 {np.percentile(pixels, 95):.1f}")  # fmt: skip
        print(f"{'mean':>16}  " + "  ".join(
            f"{n} " + " / ".join(f"{np.mean([r[0][n][k][0] for r in rows]):.2f}" for k in range(3))
            for n in NAMES)
            + f"  px median {np.median(np.concatenate([r[1] for r in rows])):.1f}"
            + f" p95 {np.percentile(np.concatenate([r[1] for r in rows]), 95):.1f}")  # fmt: skip
        print(f"{'raw marks':>16}  " + "  ".join(
            f"{n} " + " / ".join(f"{np.mean([r[2][n][k][0] for r in rows]):.2f}" for k in range(3))
            for n in NAMES))  # fmt: skip
    return 0


def errors(one: Case) -> tuple[dict[str, list[tuple[float, float]]], np.ndarray]:
    """Per angle (mean absolute error, bias) at catch, at finish, over all; joint distances, px."""
    table = off_true(one.technique.body.angles_deg, one)
    scale = 720 / one.truth["image_size"][1]
    far = [
        np.linalg.norm(
            one.technique.body.points_px[j]
            - np.array([f["p2d"][j] for f in one.truth["per_frame"]]),
            axis=1,
        )
        for j in JOINTS
    ]
    pixels = np.concatenate(far) * scale
    return table, pixels[np.isfinite(pixels)]


def off_true(angles: dict[str, np.ndarray], one: Case) -> dict[str, list[tuple[float, float]]]:
    """Per angle (mean absolute error, bias) at catch, at finish, over all."""
    true = true_angles(one.truth)
    frames = (one.truth["catch_frames"], one.truth["finish_frames"], slice(None))
    table = {}
    for name in NAMES:
        off = angles[name] - true[name]
        table[name] = [
            (float(np.nanmean(np.abs(off[k]))), float(np.nanmean(off[k]))) for k in frames
        ]
    return table


def raw_angles(one: Case) -> dict[str, np.ndarray]:
    """The backend's own marks of the near side, nothing smoothed and nothing corrected."""
    toward = facing(one.pose)
    side = "right" if toward > 0 else "left"
    return body_angles({n: near_mark(one.pose, side, n)[0] for n in JOINTS}, toward)
