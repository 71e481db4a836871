"""Playhead on the kit's recordings: right frame, right stroke, presence, placement, cost."""

from __future__ import annotations

import json
import resource
import subprocess
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

import imageio_ffmpeg
import numpy as np

from benchmarks._kit import parser
from studio.ingest.probe import probe
from studio.model.playhead import STATES, Playhead
from studio.playhead.follow import follow
from studio.progress import Quiet, Terminal

RECORDINGS = ("kit_review_tobias", "kit_review_wim", "kit_review_1", "kit_review_2")
TRUE_STATES = {"absent": "absent", "play": "playing", "pause": "paused", "scrub": "scrubbing"}


@dataclass(frozen=True)
class Truth:
    """A truth file as arrays, one entry per frame of the recording."""

    pts_s: np.ndarray
    frame: np.ndarray
    clip_s: np.ndarray
    state: list[str]
    affine: np.ndarray
    moving: np.ndarray
    clip_px: tuple[int, int]
    clip_fps: float
    width_px: int


def read_truth(path: Path) -> Truth:
    told = json.loads(path.read_text(encoding="utf-8"))
    frames, clip = told["frames"], told["clip"]
    affines = np.array([[0.0] * 6, *told["affines"]])
    at = np.array([-1 if a is None else a for a in frames["affine"]])
    runs = np.flatnonzero(np.diff(at)) + 1
    moving = np.zeros(len(at), bool)
    for part in np.split(np.arange(len(at)), runs):
        moving[part] = len(part) <= 3  # a zoom gives every frame or two a place of its own
    return Truth(
        np.array(frames["pts"]),
        np.array([-1 if f is None else f for f in frames["clip_frame"]]),
        np.array([np.nan if c is None else c for c in frames["clip_time"]]),
        [TRUE_STATES[s] for s in frames["state"]],
        affines[at + 1],
        moving & (at >= 0),
        (clip["width"], clip["height"]),
        float(clip["fps"]),
        told["recording"]["width"],
    )


def score(truth: Truth, found: Playhead, period_s: float, clip_scale: float = 1.0) -> dict:
    """The figures of one recording; `clip_scale` = size of the clip used over the true one's."""
    row = np.clip(np.searchsorted(found.recording_s, truth.pts_s + 1e-4) - 1, 0, None)
    clip_s, state = found.clip_s[row], found.state[row]
    is_there, said = truth.frame >= 0, ~np.isnan(clip_s)
    both = is_there & said
    off = np.rint((clip_s[both] - truth.clip_s[both]) * truth.clip_fps).astype(int)
    drag = np.array([s == "scrubbing" for s in truth.state])[both]
    off_s = np.abs(clip_s[both] - truth.clip_s[both])
    sure = found.confidence[row][both]
    corner = _corner_errors(truth, found, row, both, clip_scale) * 1920 / truth.width_px
    still = ~truth.moving[both]
    figures = {
        "exact": float((off == 0).mean()),
        "exact_drag": float((off[drag] == 0).mean()) if drag.any() else 1.0,
        "within_1": float((np.abs(off) <= 1).mean()),
        "within_0.1s": float((off_s <= 0.1).mean()),
        "wrong_stroke": float((off_s > period_s / 2).mean()),
        "precision": float(both.sum() / max(said.sum(), 1)),
        "recall": float(both.sum() / max(is_there.sum(), 1)),
        "corner_med": float(np.median(corner[still])),
        "corner_p95": float(np.quantile(corner[still], 0.95)),
        "zoom_p95": float(np.quantile(corner[~still], 0.95)) if (~still).any() else 0.0,
        "off_unflagged": float(((np.abs(off) > 1) & (sure >= 0.5)).mean()),
        "flagged": float((sure < 0.5).mean()),
    }
    confusion = np.zeros((4, 4), int)
    for true, code in zip(truth.state, state, strict=True):
        confusion[STATES.index(true), int(code)] += 1
    return figures | {"confusion": confusion}


def _corner_errors(
    truth: Truth, found: Playhead, row: np.ndarray, both: np.ndarray, clip_scale: float
) -> np.ndarray:
    w, h = truth.clip_px
    corners = np.array([[0, 0, 1], [w, 0, 1], [0, h, 1], [w, h, 1]], float)
    true = truth.affine[both].reshape(-1, 2, 3) @ corners.T
    mine = found.clip_to_screen[found.placement[row][both]]
    scaled = corners * [clip_scale, clip_scale, 1]
    return np.hypot(*(mine @ scaled.T - true).transpose(1, 0, 2)).max(axis=1)


def recode(source: Path, target: Path, width: int, height: int, crf: int) -> Path:
    """`source` scaled and compressed; no sound, every frame at its own time."""
    tool = imageio_ffmpeg.get_ffmpeg_exe()
    run = [tool, "-v", "error", "-y", "-i", str(source), "-an", "-vf", f"scale={width}:{height}",
           "-c:v", "libx264", "-crf", str(crf), "-fps_mode", "passthrough",
           "-enc_time_base", "demux", str(target)]  # fmt: skip
    subprocess.run(run, check=True)
    return target


def one(recording: Path, clip: Path, truth: Truth, period_s: float, quiet: bool, scale: float):
    """Follow and score; prints one line."""
    heard = probe(recording)
    before = time.process_time()
    found = follow(recording, heard, clip, probe(clip), progress=Quiet() if quiet else Terminal())
    cost = (time.process_time() - before) / (float(found.spans[-1].end_s) / 60)
    figures = score(truth, found, period_s, scale)
    return found, figures | {"cpu_s_per_min": cost}


def main(argv: list[str]) -> int:
    made = parser(__doc__ or "")
    made.add_argument("--only", action="append", help="part of a recording's name")
    made.add_argument("--variants", default="plain,small,both", help="plain, small, both")
    made.add_argument("--save", type=Path, help="folder for the playheads found")
    made.add_argument("--quiet", action="store_true")
    asked = made.parse_args(argv)
    with tempfile.TemporaryDirectory() as folder:
        for name in RECORDINGS:
            if asked.only and not any(part in name for part in asked.only):
                continue
            truth_path = asked.kit / f"{name}.truth.json"
            truth = read_truth(truth_path)
            clip = asked.kit / json.loads(truth_path.read_text())["clip"]["file"]
            told = json.loads(clip.with_suffix(".json").read_text())
            period_s = float(np.median(np.diff(told["catch_frames"]))) / truth.clip_fps
            for variant in asked.variants.split(","):
                _variant(name, variant, asked, Path(folder), truth, clip, period_s)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MiB")
    return 0


def _variant(name, variant, asked, folder, truth, clip, period_s) -> None:
    recording, scale = asked.kit / f"{name}.mp4", 1.0
    used = truth
    if variant in ("small", "both"):
        recording = recode(recording, folder / "recording.mp4", 640, 360, 34)
        used = _resized(truth, 640)
    if variant == "both":
        clip, scale = recode(clip, folder / "clip.mp4", 480, 270, 33), 480 / truth.clip_px[0]
    found, figures = one(recording, clip, used, period_s, asked.quiet, scale)
    print(f"{name} {variant}")
    confusion = figures.pop("confusion")
    print("  " + "  ".join(f"{k} {v:.4f}" for k, v in figures.items()))
    print("  true \\ said " + " ".join(f"{s:>9}" for s in STATES))
    for state, counts in zip(STATES, confusion, strict=True):
        print(f"  {state:>11} " + " ".join(f"{c:9d}" for c in counts))
    if asked.save and variant == "plain":
        from studio.store import save

        save(asked.save / f"{name.removeprefix('kit_review_')}.json", found)


def _resized(truth: Truth, width: int) -> Truth:
    from dataclasses import replace

    scale = width / truth.width_px
    return replace(truth, affine=truth.affine * scale, width_px=width)
