"""Clips spoilt in known ways: what still holds, what is withheld, what breaks.

The kit's clips are changed picture by picture, and their movement is filmed again, as a mannequin,
from other sides; the truth is carried along.
"""

import json
import platform
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import platformdirs

from benchmarks import _degrade, _mannequin
from benchmarks._clips import clips, tracked, true_angles
from benchmarks._degrade import CHANGES, RATES, Shot
from benchmarks._kit import parser
from benchmarks.strokes import TOLERANCE_S, match, true_measures
from studio.config import ClipSettings, Corrections, Settings
from studio.errors import LaunchsideError
from studio.ingest.frames import read_frames
from studio.ingest.probe import probe
from studio.model.technique import Technique
from studio.technique.analyse import analyse

ANGLES = ("trunk", "shin", "knee", "elbow")
YAWS = (-30, -20, 0, 20, 30)
SIZE = (960, 540)


@dataclass
class Outcome:
    """What became of one spoilt clip."""

    line: str
    events_ms: list[float]
    missed: int
    invented: int
    group: str = ""
    readings: tuple[tuple[str, float, float], ...] = ()
    """Measure, how far it is off, the error stated for it."""


def main(argv: list[str]) -> int:
    options = parser(__doc__)
    options.add_argument("--weights", choices=["full", "heavy"], default="full")
    options.add_argument("--only", default="", help="names that contain this")
    options.add_argument("--clip", default="", help="clips whose names contain this")
    given = options.parse_args(argv)
    print(f"{given.weights} weights, Python {platform.python_version()}; angle errors: mean over"
          " catches / finishes / all frames, degrees; '-' = withheld")  # fmt: skip
    outcomes = []
    for path in clips(given.kit):
        if given.clip not in path.stem:
            continue
        truth = json.loads(path.with_suffix(".json").read_text())
        names = [*RATES] if truth["time_factor"] != 1 else [*CHANGES]
        for name in [*names, *(f"view_{yaw}" for yaw in YAWS)]:
            if given.only in name:
                outcomes.append(_one(path, truth, name, given.weights))
                print(outcomes[-1].line, flush=True)
    errors = np.abs([e for o in outcomes for e in o.events_ms])
    print(f"{len(errors)} events found, {sum(o.missed for o in outcomes)} missed,"
          f" {sum(o.invented for o in outcomes)} invented; |error| median"
          f" {np.median(errors):.0f} ms, p95 {np.percentile(errors, 95):.0f} ms")  # fmt: skip
    for group in dict.fromkeys(o.group for o in outcomes if o.readings):
        _stated(group, [r for o in outcomes if o.group == group for r in o.readings])
    return 0


def _stated(group: str, readings: list[tuple[str, float, float]]) -> None:
    """Measures' errors beside those that were stated."""
    print(f"\n{group}: measures, mean |error|, mean stated error, share of clips within it")
    for name in dict.fromkeys(name for name, _, _ in readings):
        off, stated = np.array([r[1:] for r in readings if r[0] == name]).T
        off = np.abs(off)
        print(f"  {name:14s}{off.mean():7.2f}{stated.mean():7.2f}{np.mean(off <= stated):7.0%}"
              f"  of {len(off)}")  # fmt: skip


def _one(path: Path, truth: dict, name: str, weights: str) -> Outcome:
    video, told = _spoilt(path, truth, name)
    media = probe(video)
    pose, _ = tracked(video, media, weights, fresh=False)
    settings = Settings()
    if told["factor"] != 1:
        settings = replace(settings, clip=ClipSettings(captured_fps=truth["capture_fps"]))
    head = f"{path.stem.removeprefix('kit_'):>12} {name:<13}"
    try:
        technique = analyse(pose, media, settings, Corrections())
    except LaunchsideError as error:
        return Outcome(f"{head} refused: {error}", [], len(told["catches_s"]), 0)
    return _told(head, technique, truth, told)


def _told(head: str, technique: Technique, truth: dict, told: dict) -> Outcome:
    factor = told["factor"]
    ms: list[float] = []
    missed = invented = 0
    for kind, name in (("catch", "catches_s"), ("finish", "finishes_s")):
        got = [getattr(s, f"{kind}_s") for s in technique.strokes]
        found, lost, extra = match([g for g in got if g is not None], told[name],
                                   TOLERANCE_S * factor)  # fmt: skip
        ms += [1000 * e / factor for e in found]
        missed, invented = missed + lost, invented + extra
    cells = []
    true = true_angles(truth)
    times = technique.body.time_s
    for angle in ANGLES:
        off = technique.body.angles_deg[angle] - true[angle][told["source"]]
        rows = [np.searchsorted(times, t).clip(0, len(times) - 1)
                for t in told["catches_s"]], [np.searchsorted(times, t).clip(0, len(times) - 1)
                                              for t in told["finishes_s"]]  # fmt: skip
        parts = [off[r] for r in rows] + [off]
        cells.append(
            f"{angle} " + "/".join(_mean(p) for p in parts) + f" ({np.isfinite(off).mean():.0%})"
        )
    codes = {f.code for f in (*technique.findings, *technique.further) if f.kind == "change"}
    faults = set(truth["faults"])
    faced = "" if technique.body.facing == told["facing"] else " FACING WRONG"
    worst = f"{max(map(abs, ms)):.0f}" if ms else "-"
    line = (f"{head} {len(ms)}+{missed}-{invented}! worst {worst:>3} ms{faced}  yaw"
            f" {technique.view.yaw_deg}/{told['yaw']:.0f}{'' if technique.view.square else '*'}"
            f" roll {technique.view.roll_deg:.1f}  " + "  ".join(cells)
            + f"  missed {sorted(faults - codes - {'raised_elbows'})}"
            + f" beyond {sorted(codes - faults)}")  # fmt: skip
    true = true_measures(truth)
    readings = tuple((m.name, m.value - true[m.name], m.error) for m in technique.measures
                     if m.name in true and m.value is not None)  # fmt: skip
    name = head.split()[1]
    group = f"mannequin, {abs(told['yaw'])} off square" if name.startswith("view_") else "clips"
    return Outcome(line, ms, missed, invented, group, readings)


def _mean(off: np.ndarray) -> str:
    good = np.abs(off[np.isfinite(off)])
    return f"{good.mean():.1f}" if len(good) else "-"


def _spoilt(path: Path, truth: dict, name: str) -> tuple[Path, dict]:
    """The spoilt clip, made once and kept, and what is true of it."""
    folder = Path(platformdirs.user_cache_dir("launchside")) / "benchmarks" / "spoilt"
    folder.mkdir(parents=True, exist_ok=True)
    video, side = folder / f"{path.stem}-{name}.mp4", folder / f"{path.stem}-{name}.json"
    if not side.exists():
        shot = _filmed(truth, int(name[5:])) if name.startswith("view_") else _changed(
            path, truth, name)  # fmt: skip
        _write(shot, video)
        side.write_text(json.dumps({
            "catches_s": [c / shot.fps for c in shot.catches],
            "finishes_s": [f / shot.fps for f in shot.finishes],
            "source": [int(s) for s in shot.source],
            "facing": shot.facing, "yaw": shot.yaw, "factor": shot.factor,
        }))  # fmt: skip
    told = json.loads(side.read_text())
    told["source"] = np.array(told["source"])
    return video, told


def _changed(path: Path, truth: dict, name: str) -> Shot:
    media = probe(path)
    assert media.video is not None
    images = [f.image[..., ::-1].copy() for f in read_frames(path, media.video)]
    shot = Shot(images, mask=_masks(images) if name in _WITH_MASKS else None, **_true(truth))
    return (CHANGES | RATES)[name](shot, truth)


_WITH_MASKS = ("rower_behind", "passer_by")


def _true(truth: dict) -> dict:
    factor, fps = truth["time_factor"], truth["fps"]
    ends = {k: tuple(s[f"{k}_time"] * factor * fps for s in truth["strokes"] if s[f"{k}_in_clip"])
            for k in ("catch", "finish")}  # fmt: skip
    return {
        "fps": float(fps), "source": np.arange(len(truth["per_frame"])), "catches": ends["catch"],
        "finishes": ends["finish"], "facing": truth["facing"], "yaw": truth["camera"]["yaw"],
        "factor": float(factor),
    }  # fmt: skip


def _masks(images: list[np.ndarray]):
    """The athlete's silhouette in every picture, by the pose backend."""
    from studio.technique.mediapipe_pose import MediaPipePose

    masks = []
    with MediaPipePose() as estimator:
        for image in images:
            seen = estimator.follow(image)
            masks.append(np.zeros(image.shape[:2], bool) if seen is None or seen.mask is None
                         else np.array(seen.mask) > 0.3)  # fmt: skip
    return lambda i: masks[i]


def _filmed(truth: dict, yaw: int) -> Shot:
    """The clip's movement as a mannequin, from `yaw` degrees off square."""
    side = -1 if truth["facing"] == "right" else 1
    camera = _mannequin.Camera(SIZE, yaw, side)
    behind = _mannequin.room(SIZE)
    rng = np.random.default_rng(4)
    images = []
    for row in truth["per_frame"]:
        image = behind + rng.normal(0, 2, behind.shape).astype(np.float32)
        _mannequin.draw(image, _mannequin.rower(row["p3d"], side), camera)
        images.append(image.clip(0, 255).astype(np.uint8))
    return replace(Shot(images, **_true(truth)), yaw=yaw)


def _write(shot: Shot, path: Path) -> None:
    rate = Fraction(shot.fps).limit_denominator(1000)
    with av.open(str(path), "w") as container:
        options = {"crf": str(shot.crf), "preset": "veryfast"}
        stream = container.add_stream("libx264", rate=rate, options=options)
        stream.pix_fmt = "yuv420p"
        for i, image in enumerate(_degrade.chunks(shot)):
            if i == 0:
                stream.height, stream.width = image.shape[:2]
            for packet in stream.encode(av.VideoFrame.from_ndarray(image, format="rgb24")):
                container.mux(packet)
        for packet in stream.encode():
            container.mux(packet)
