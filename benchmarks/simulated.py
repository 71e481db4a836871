"""The playhead on recordings made by scripts drawn at random: material nobody has tuned on.

python -m benchmarks simulated [--kit DIR] [--seeds N] [--first SEED]
"""

import json
import tempfile
from pathlib import Path

import numpy as np

from benchmarks._kit import parser
from benchmarks._simulate import simulate
from benchmarks.playhead import one

CLIPS = ("kit_faults_left", "kit_clean_right", "kit_yaw10", "kit_slowmo")


def main(argv: list[str]) -> int:
    """Print a row for every recording."""
    made = parser(__doc__ or "")
    made.add_argument("--seeds", type=int, default=8)
    made.add_argument("--first", type=int, default=1)
    asked = made.parse_args(argv)
    with tempfile.TemporaryDirectory(prefix="simulated-bench-") as folder:
        for seed in range(asked.first, asked.first + asked.seeds):
            clip = asked.kit / f"{CLIPS[seed % len(CLIPS)]}.mp4"
            told = json.loads(clip.with_suffix(".json").read_text())
            recording = Path(folder) / "recording.mp4"
            truth = simulate(clip, recording, seed)
            between = np.diff(told["catch_frames"]) / truth.clip_fps
            period_s = float(np.median(between)) if len(between) else 2.0
            _, figures = one(recording, clip, truth, period_s, True, 1.0)
            figures.pop("confusion")
            print(f"seed {seed} {clip.stem}  "
                  + "  ".join(f"{k} {v:.4f}" for k, v in figures.items()), flush=True)  # fmt: skip
    return 0
