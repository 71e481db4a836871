"""What a whole make costs, stage by stage, and whether that grows in proportion to length.

    python -m benchmarks make [--kit DIR] [--talk NAME] [--only whole,growth] [--piece SECONDS]

`whole` makes the episode of one kit recording. `growth` makes three from a piece of it, taken once,
twice and four times in a row, each in a process of its own. CPU-seconds are user and system of the
process and its children (ffmpeg). Stages that read the clip alone cost the same for all three.
"""

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from benchmarks._kit import parser
from studio.episode import open_episode
from studio.episode_file import write_new
from studio.ingest.probe import probe
from studio.pipeline import make
from studio.progress import Quiet
from studio.stages import STAGES

CHILD = "--child"
TIMES = (1, 2, 4)
CLIP_ONLY = ("clip", "pose", "technique", "bystanders", "stills", "table")
ABOUT = {"title": "Early hands", "series": "Stroke Surgery", "club": "Quillwater Rowing Club",
         "alias": "Tobias", "consent": "yes"}  # fmt: skip


def main(argv: list[str]) -> int:
    """Print the tables."""
    if argv[:1] == [CHILD]:
        return _child(Path(argv[1]))
    made = parser(__doc__ or "")
    made.add_argument("--talk", default="kit_review_tobias")
    made.add_argument("--only", default="whole,growth")
    made.add_argument("--piece", type=float, default=50.0, help="seconds of talk for `growth`")
    args = made.parse_args(argv)
    truth = json.loads((args.kit / f"{args.talk}.truth.json").read_text())
    sources = args.kit / f"{args.talk}.mp4", args.kit / truth["clip"]["file"]
    with tempfile.TemporaryDirectory(prefix="make-bench-") as name:
        if "whole" in args.only:
            _whole(Path(name), *sources)
        if "growth" in args.only:
            _growth(Path(name), *sources, args.piece)
    return 0


def _whole(folder: Path, recording: Path, clip: Path) -> None:
    rows = _made(folder / "whole", recording, clip)
    length = float(probe(recording).duration_s)
    load = os.getloadavg()[0]
    print(f"Making {recording.stem}, {length:.0f} s, load {load:.1f}: wall s, CPU s")
    for stage, (wall, cpu) in rows.items():
        print(f"  {stage:12s}{wall:8.1f}{cpu:8.1f}")
    wall, cpu = (sum(row[i] for row in rows.values()) for i in (0, 1))
    print(f"  {'all':12s}{wall:8.1f}{cpu:8.1f}")
    print(f"  of the recording's length: wall {wall / length:.2f}, "
          f"CPU on two cores {cpu / 2 / length:.2f}")  # fmt: skip


def _growth(folder: Path, recording: Path, clip: Path, piece_s: float) -> None:
    """CPU-seconds by length; a stage in proportion costs 1, 2 and 4 times as much."""
    tables = {}
    for times in TIMES:
        longer = _repeated(recording, folder / f"{times}.mp4", piece_s, times)
        tables[times] = _made(folder / f"growth{times}", longer, clip)
    print(f"CPU-seconds for {piece_s:.0f} s of talk once, twice and four times over")
    for stage in tables[1]:
        row = [tables[times][stage][1] for times in TIMES]
        print(f"  {stage:12s}" + "".join(f"{cpu:8.1f}" for cpu in row))
    grows = [sum(c for s, (_, c) in tables[t].items() if s not in CLIP_ONLY) for t in TIMES]
    print(f"  {'with length':12s}" + "".join(f"{cpu:8.1f}" for cpu in grows))
    step = (grows[2] - grows[1]) / 2 / max(grows[1] - grows[0], 1e-9)
    print(f"  a piece more costs {grows[1] - grows[0]:.1f}, then {(grows[2] - grows[1]) / 2:.1f}: "
          f"{step:.2f} (1 = in proportion)")  # fmt: skip


def _repeated(recording: Path, out: Path, piece_s: float, times: int) -> Path:
    """A piece of a recording, several times in a row."""
    import imageio_ffmpeg

    loop = ["-stream_loop", str(times - 1)]
    ffmpeg = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y"]
    piece = out.with_suffix(".piece.mkv")
    encode = ["-c:v", "libx264", "-preset", "veryfast", "-crf", "20", "-c:a", "flac"]
    subprocess.run([*ffmpeg, "-ss", "30", "-t", str(piece_s), "-i", str(recording), *encode,
                    str(piece)], check=True)  # fmt: skip
    subprocess.run([*ffmpeg, *loop, "-i", str(piece), "-c:v", "copy", "-c:a", "aac", str(out)],
                   check=True)  # fmt: skip
    return out


def _made(folder: Path, recording: Path, clip: Path) -> dict[str, tuple[float, float]]:
    write_new(folder, {"recording": recording, "clip": clip}, ABOUT, 0.0, 0.0)
    run = [sys.executable, "-m", "benchmarks", "make", CHILD, str(folder)]
    done = subprocess.run(run, stdout=subprocess.PIPE, text=True, check=True)
    return json.loads(done.stdout.splitlines()[-1])


def _child(folder: Path) -> int:
    """One make, one stage after another; prints wall and CPU-seconds of each as JSON."""
    rows = {}
    episode = open_episode(folder)
    for stage in STAGES:
        wall, cpu = time.monotonic(), _cpu_s()
        make(episode, STAGES, progress=Quiet(), until=stage.name)
        rows[stage.name] = (time.monotonic() - wall, _cpu_s() - cpu)
    print(json.dumps(rows))
    return 0


def _cpu_s() -> float:
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(u.ru_utime + u.ru_stime for u in used)
