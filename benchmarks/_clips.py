"""Kit clips beside their truth, and pose tracks kept between runs."""

import json
import time
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import platformdirs

from studio import store
from studio.config import Corrections, Settings
from studio.ingest.probe import probe
from studio.model.media import MediaFile
from studio.model.pose import PoseTrack
from studio.model.technique import Technique
from studio.progress import Quiet
from studio.stages import STAGES
from studio.technique.analyse import analyse
from studio.technique.pose import track_pose


@dataclass
class Case:
    """One clip with its truth, its pose and what was made of it."""

    name: str
    weights: str
    truth: dict
    media: MediaFile
    pose: PoseTrack
    technique: Technique
    frames_per_cpu_s: float | None
    analyse_s: float


def clips(kit: Path) -> list[Path]:
    """Every clip with a truth file beside it."""
    found = [p for p in sorted(kit.glob("*.mp4")) if p.with_suffix(".json").exists()]
    if not found:
        raise SystemExit(f"no clips with truth in {kit}; name the folder with --kit")
    return found


def case(path: Path, weights: str, *, fresh: bool = False) -> Case:
    """Track (or take the kept track) and analyse, slow motion declared from the truth."""
    truth = json.loads(path.with_suffix(".json").read_text())
    media = probe(path)
    pose, speed = tracked(path, media, weights, fresh=fresh)
    settings = Settings()
    if height := truth.get("body", {}).get("standing_height_m"):
        settings = replace(settings, athlete=replace(settings.athlete, height_cm=100 * height))
    if truth["time_factor"] != 1:
        settings = replace(
            settings, clip=replace(settings.clip, captured_fps=float(truth["capture_fps"]))
        )
    start = time.process_time()
    technique = analyse(pose, media, settings, Corrections())
    return Case(path.stem, weights, truth, media, pose, technique, speed,
                time.process_time() - start)  # fmt: skip


def tracked(
    path: Path, media: MediaFile, weights: str, *, fresh: bool
) -> tuple[PoseTrack, float | None]:
    """A pose track and, where it was made just now, frames per CPU-second."""
    folder = Path(platformdirs.user_cache_dir("launchside")) / "benchmarks"
    version = next(stage.version for stage in STAGES if stage.name == "pose")
    kept = folder / f"{media.digest}-{weights}-pose{version}.json"
    if kept.exists() and not fresh:
        return store.load(kept, PoseTrack), None
    assert media.video is not None
    start = time.process_time()
    pose = track_pose(path, media.video, weights=weights, progress=Quiet())
    speed = len(pose.time_s) / (time.process_time() - start)
    store.save(kept, pose)
    return pose, speed


def true_angles(truth: dict) -> dict[str, np.ndarray]:
    """The contract's angles from the truth's sagittal ones."""
    rows = [f["angles"] for f in truth["per_frame"]]
    return {
        "trunk": np.array([r["torso"] for r in rows]),
        "shin": np.array([r["shin"] for r in rows]),
        "knee": 180 - np.array([r["knee_flexion"] for r in rows]),
        "elbow": 180 - np.array([r["elbow_flexion"] for r in rows]),
    }
