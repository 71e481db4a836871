"""Cost of a render against a bare transcode, memory, marks against the true joints, sync, sound.

    python -m benchmarks render [--kit DIR] [--rounds N] [--recording NAME] [--only PARTS]

CPU-seconds are user + system of whole child processes. Rounds are interleaved and the cheapest of
each is taken, since a shared machine only ever adds. Figures of 2026-11 are in docs/rendering.md.
"""

import json
import resource
import subprocess
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from benchmarks._kit import parser

CHILD = "benchmarks._render_child"
VIDEO = ["-c:v", "libx264", "-preset", "veryfast", "-crf", "20", "-g", "120"]


def main(argv: list[str]) -> int:
    """Print the tables."""
    args = _arguments(argv)
    with tempfile.TemporaryDirectory(prefix="render-bench-") as name:
        parts = {"cost": _cost, "moving": _moving, "memory": _memory, "marks": _marks,
                 "sync": _sync}  # fmt: skip
        for part in args.only.split(","):
            parts[part](args, Path(name))
    return 0


def _arguments(argv: list[str]):
    made = parser(__doc__ or "")
    made.add_argument("--rounds", type=int, default=2)
    made.add_argument("--recording", default="kit_review_1", help="for cost and memory")
    made.add_argument("--talk", default="kit_review_tobias", help="for marks, sync and sound")
    made.add_argument("--only", default="cost,moving,memory,marks,sync")
    made.add_argument("--playhead", default="measured", choices=("measured", "true"),
                      help="for marks: the program's own playhead, or the kit's")  # fmt: skip
    return made.parse_args(argv)


def _cpu(command: list[str]) -> tuple[float, dict]:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    told = json.loads(done.stdout.splitlines()[-1]) if done.stdout.strip() else {}
    return spent, told


def _child(mode: str, args, name: str, out: Path, *more: str) -> list[str]:
    return [sys.executable, "-m", CHILD, mode, str(args.kit), name, str(out), *more]


def _cost(args, folder: Path) -> None:
    """Picture alone and whole render, each against ffmpeg doing the same to the same file."""
    import imageio_ffmpeg

    source = args.kit / f"{args.recording}.mp4"
    ffmpeg = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", "-i", str(source)]
    runs = {
        "transcode, picture": [*ffmpeg, "-an", *VIDEO, str(folder / "bare.mp4")],
        "render, picture": _child("picture", args, args.recording, folder / "picture.mp4"),
        "transcode, picture and sound": [*ffmpeg, *VIDEO, "-c:a", "aac", "-b:a", "192k",
                                         str(folder / "bare2.mp4")],
        "render, everything": _child("whole", args, args.recording, folder / "whole.mp4"),
    }  # fmt: skip
    best = _best(runs, args.recording, args.rounds)
    print(f"  ratio, picture       {best['render, picture'] / best['transcode, picture']:.3f}")
    both = best["render, everything"] / best["transcode, picture and sound"]
    print(f"  ratio, everything    {both:.3f}")


def _best(runs: dict[str, list[str]], what: str, rounds: int) -> dict[str, float]:
    """CPU-seconds of each command, the cheapest of some rounds; printed."""
    spent: dict[str, list[float]] = {name: [] for name in runs}
    for _ in range(rounds):
        for name, command in runs.items():
            cpu, told = _cpu(command)
            # starting Python, reading the truth and measuring the clip are no part of a render
            spent[name].append(cpu - told.get("setup_cpu_s", 0.0))
            frames = told.get("frames", "?")
    best = {name: min(values) for name, values in spent.items()}
    print(f"CPU-seconds, {what}, {frames} frames, best of {rounds}")
    for name, value in best.items():
        print(f"  {name:32s}{value:8.1f}")
    return best


def _moving(args, folder: Path) -> None:
    """The dearest picture there is: a clip at 1080p on its own, with marks on every frame."""
    import imageio_ffmpeg

    clip = folder / "moving.mp4"
    ffmpeg = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y"]
    source = ["-stream_loop", "7", "-i", str(args.kit / "kit_faults_left.mp4")]
    _cpu([*ffmpeg, *source, "-vf", "scale=1920:1080:flags=lanczos", "-crf", "20", str(clip)])
    runs = {
        "transcode": [*ffmpeg, "-i", str(clip), *VIDEO, str(folder / "bare3.mp4")],
        "render": [sys.executable, "-m", CHILD, "clip", str(folder), clip.name,
                   str(folder / "clip.mp4")],
    }  # fmt: skip
    best = _best(runs, "a clip that moves throughout", args.rounds)
    print(f"  ratio                {best['render'] / best['transcode']:.3f}")


def _memory(args, folder: Path) -> None:
    print("Peak memory, MB, by share of the recording rendered")
    for share in ("0.25", "0.5", "1.0"):
        _, told = _cpu(_child("picture", args, args.recording, folder / "m.mp4", share))
        print(f"  {share:6s}{told['peak_mb']:8.0f}  {told['frames']} frames")


def _marks(args, _: Path) -> None:
    """Where marks are drawn against where the truth has the joints, screen pixels."""
    from benchmarks._render_child import scene
    from studio.deliver.onscreen import CENTRE, Pose, on_screen, to_screen
    from studio.edit.planner import plan

    for name in (args.talk, "kit_review_wim"):
        made = scene(args.kit, name, measured=args.playhead)
        truth = json.loads((args.kit / f"{name}.truth.json").read_text())
        joints = json.loads((args.kit / truth["clip"]["file"]).with_suffix(".json").read_text())
        edit = plan(**made.arguments)
        table = on_screen(edit, made.playhead, made.technique, None)
        pose = Pose(made.technique.body)
        rows = {point: [] for point in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")}
        per_frame = joints["per_frame"]
        pts = np.array(truth["frames"]["pts"])
        for row, placed, clip_s in _shown(edit, table):
            frame = truth["frames"]["clip_frame"][int(np.argmin(np.abs(pts - row)))]
            index = int(np.argmin(np.abs(pts - row)))
            if frame is None:
                continue
            a, b, c, d, e, f = truth["affines"][truth["frames"]["affine"][index]]
            drawn = pose.points(clip_s)
            for point, found in rows.items():
                x, y = per_frame[frame]["p2d"][point]
                true = np.array([a * x + b * y + c, d * x + e * y + f]) - CENTRE
                found.append(np.linalg.norm(to_screen(table.affines[placed], drawn[point]) - true))
        height = edit.height_px
        print(f"Drawn marks against true joints, {name}, pixels at 720 lines ({made.source})")
        print("  point      median    95 %")
        everything = []
        for point, found in rows.items():
            values = np.array(found) * 720 / height
            everything.append(values)
            print(f"  {point:10s}{np.nanmedian(values):7.1f}{np.nanpercentile(values, 95):8.1f}")
        all_values = np.concatenate(everything)
        print(f"  all       {np.nanmedian(all_values):7.1f}{np.nanpercentile(all_values, 95):8.1f}")


def _shown(edit, table):
    """Recording time, placement and clip time of every second program frame with marks."""
    number = 0
    for shot in edit.shots:
        for step in range(round(shot.duration_s * edit.frame_rate)):
            if shot.kind != "card" and number % 2 == 0 and table.presence[number] > 0.5:
                at = shot.source_start_s + step * shot.speed / edit.frame_rate
                yield float(at), int(table.affine[number]), float(table.clip_s[number])
            number += 1


def _sync(args, folder: Path) -> None:
    """Frame count, loudness, and how far the program's sound has moved against its plan."""
    from benchmarks._render_child import scene
    from studio.edit.planner import plan
    from studio.ingest.audio import read_audio
    from studio.ingest.probe import probe

    made = scene(args.kit, args.talk, measured="")
    settings = made.arguments["settings"]
    plain = replace(settings, holds=replace(settings.holds, insert=False))
    edit = plan(**{**made.arguments, "settings": plain})
    out = folder / "sync.mp4"
    _, told = _cpu(_child("whole", args, args.talk, out))
    media = probe(out)
    wanted = round(edit.duration_s * edit.frame_rate)
    print(f"{args.talk}: frames {media.video.frame_count} of {wanted}; loudness "
          f"{told['loudness_before_lufs']} to {told['loudness_lufs']} LUFS, true peak "
          f"{told['true_peak_db']} dBTP")  # fmt: skip
    source = read_audio(made.paths[0], made.arguments["recording"], rate_hz=16000, channels=1)[:, 0]
    program = read_audio(out, media, rate_hz=16000, channels=1)[:, 0]
    print("Sound against the plan, milliseconds (positive = late)")
    for share in (0.02, 0.5, 0.95):
        at = share * len(source) / 16000
        due = float(edit.program_time(at) or 0.0)
        print(f"  at {due:6.1f} s  {_offset_ms(source, program, at, due):+.2f}")


def _offset_ms(source: np.ndarray, program: np.ndarray, at: float, due: float) -> float:
    """Best shift of two seconds of the recording's sound within the program's, 16 kHz."""
    piece = source[int(at * 16000) :][: 2 * 16000]
    start = int(due * 16000) - 1600
    window = program[max(0, start) :][: len(piece) + 3200]
    match = np.correlate(window, piece, mode="valid")
    return (max(0, start) + int(np.argmax(np.abs(match))) - due * 16000) / 16
