"""Strokes, events, measures and findings beside the truth of the kit's clips."""

import numpy as np

from benchmarks._clips import Case, case, clips
from benchmarks._kit import parser
from studio.technique.models import heavy_weights

TRUE_MEASURES = {
    "lean": ("torso_at_catch", 1.0),
    "layback": ("torso_at_finish", -1.0),
    "shin": ("shin_at_catch", 1.0),
    "heel_lift_cm": ("heel_lift_cm_at_catch", 1.0),
    "handle_height": ("handle_height_fraction_hip_to_shoulder", 1.0),
    "hand_drop_cm": ("hand_drop_cm", 1.0),
    "arms_bend": ("arm_bend_start_fraction", 1.0),
    "wrist": ("wrist_at_finish", 1.0),
    "knees_wait": ("knees_break_minus_hands_past_knees_s", 1.0),
    "body_set": ("torso_when_knees_break", 1.0),
    "lunge": ("torso_gain_last_fifth_of_recovery", 1.0),
}
"""Our measure -> the truth's name and sign."""
TOLERANCE_S = 0.2
HIDDEN_FROM_THE_SIDE = {"raised_elbows"}


def main(argv: list[str]) -> int:
    options = parser(__doc__)
    options.add_argument("--fresh", action="store_true", help="track again, and report the speed")
    given = options.parse_args(argv)
    kinds = ["heavy", "full"] if heavy_weights() else ["full"]
    errors: dict[str, list[float]] = {}
    for weights in kinds:
        print(f"\n{weights} weights")
        for path in clips(given.kit):
            one = case(path, weights, fresh=given.fresh)
            errors.setdefault(weights, []).extend(show(one))
    for weights, ms in errors.items():
        low, high = np.percentile(np.abs(ms), [50, 95])
        print(f"{weights}: catch and finish |error| median {low:.1f} ms, p95 {high:.1f} ms"
              f" over {len(ms)} events")  # fmt: skip
    return 0


def show(one: Case) -> list[float]:
    technique, truth = one.technique, one.truth
    factor = truth["time_factor"]
    speed = f", {one.frames_per_cpu_s:.1f} frames per CPU-second" if one.frames_per_cpu_s else ""
    print(f"\n{one.name}: faces {technique.body.facing} (true {truth['facing']}), yaw"
          f" {technique.view.yaw_deg} (true {truth['camera']['yaw']}), analysed in"
          f" {one.analyse_s:.2f} s{speed}")  # fmt: skip
    errors = []
    for kind in ("catch", "finish"):
        got = [getattr(s, f"{kind}_s") for s in technique.strokes]
        found, missed, invented = match(
            [g for g in got if g is not None],
            [s[f"{kind}_time"] * factor for s in truth["strokes"] if s[f"{kind}_in_clip"]],
            TOLERANCE_S * factor,
        )
        ms = [1000 * e / factor for e in found]
        errors += ms
        print(f"  {kind}: {len(found)} found, {missed} missed, {invented} invented, errors ms "
              + " ".join(f"{e:+.0f}" for e in ms))  # fmt: skip
    print_measures(one)
    codes = {f.code for f in (*technique.findings, *technique.further) if f.kind == "change"}
    true = set(truth["faults"]) - HIDDEN_FROM_THE_SIDE
    print(f"  faults found {sorted(codes & true)}, missed {sorted(true - codes)},"
          f" beyond the truth {sorted(codes - true)}")  # fmt: skip
    return errors


def match(got: list[float], true: list[float], tolerance: float) -> tuple[list[float], int, int]:
    """Errors of the true events found, how many were missed, how many were invented."""
    found = []
    free = list(got)
    for t in true:
        near = min(free, key=lambda g: abs(g - t), default=None)
        if near is not None and abs(near - t) <= tolerance:
            found.append(near - t)
            free.remove(near)
    return found, len(true) - len(found), len(free)


def print_measures(one: Case) -> None:
    by_name = {m.name: m for m in one.technique.measures}
    cells = []
    rate = by_name["rate"].value
    cells.append(f"rate {rate and round(rate, 1)}/{one.truth['stroke_rate_mean']:.1f}")
    true = true_measures(one.truth)
    for name in TRUE_MEASURES:
        got = by_name[name].value if name in by_name else None
        wanted = f"{true[name]:.2f}" if name in true else "-"
        cells.append(f"{name} {'-' if got is None else f'{got:.2f}'}/{wanted}")
    print("  measured/true: " + ", ".join(cells))


def true_measures(truth: dict) -> dict[str, float]:
    """The median over a clip's strokes of every measure that the truth tells."""
    rows = [s["measured"] for s in truth["strokes"]]
    found = {name: [sign * r[key] for r in rows if r.get(key) is not None]
             for name, (key, sign) in TRUE_MEASURES.items()}  # fmt: skip
    return {name: float(np.median(values)) for name, values in found.items() if values}
