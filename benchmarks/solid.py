"""Kills at random moments of a make, and the memory a recording of hours takes.

python -m benchmarks solid            # both; a quarter of an hour of computing and 15 GB of disk
python -m benchmarks solid --kills 5 --hours 0
"""

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests import small_episode
from tests.small_episode import contents, ffmpeg

MAKE = [sys.executable, "-m", "studio.cli.main", "make", "-q"]
CORRECTIONS = '[[chapters]]\naction = "rename"\nrecording_s = 0.0\ntitle = "Shins first"\n'
RATE = 2
"""Frames a second of the long recording: it shows slides and a paused clip more than it moves."""


def main(argv: list[str]) -> int:
    """Both parts; 1 when anything came out otherwise than undisturbed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=25)
    parser.add_argument("--hours", type=float, default=3.0)
    parser.add_argument("--seed", type=int, default=8)
    given = parser.parse_args(argv)
    with tempfile.TemporaryDirectory(prefix="launchside-solid-") as name:
        wrong = kills(Path(name), given.kills, given.seed) if given.kills else 0
        if given.hours:
            memory(Path(name), given.hours)
    return 1 if wrong else 0


def kills(root: Path, count: int, seed: int) -> int:
    """kill -9 a make from nothing at random moments, make again, compare; returns how many differ.

    Every make begins with nothing but the sources, so that each stage is hit in proportion to the
    time it takes.
    """
    sources = small_episode.build(root / "sources", length_s=6.0)
    settings = sources / "episode.toml"
    settings.write_text(settings.read_text() + '\n[clip]\nweights = "full"\n')
    (sources / "corrections.toml").write_text(CORRECTIONS)
    folder = root / "episode"  # always the same: the time line names the files' places
    shutil.copytree(sources, folder)
    began = time.monotonic()
    subprocess.run([*MAKE, folder], check=True)
    whole_s, undisturbed = time.monotonic() - began, contents(folder)
    print(f"undisturbed: {whole_s:.1f} s, {len(undisturbed)} files")
    print("kill  after s  done  half-made  made again s  the same  corrections")
    chance, wrong, number = random.Random(seed), 0, 0
    while number < count:
        shutil.rmtree(folder)
        shutil.copytree(sources, folder)
        moment = chance.uniform(0.2, whole_s)
        process = subprocess.Popen([*MAKE, folder])
        time.sleep(moment)
        if process.poll() is not None:
            continue  # it was quicker than the undisturbed one: too late for a kill
        process.send_signal(signal.SIGKILL)
        process.wait()
        done = len(list((folder / "work" / "keys").glob("*.json")))
        half = len(list(folder.rglob(".aside-*")))
        began = time.monotonic()
        again = subprocess.run([*MAKE, folder], check=False).returncode
        took_s = time.monotonic() - began
        same = again == 0 and contents(folder) == undisturbed
        same = same and not list(folder.rglob(".aside-*"))
        kept = (folder / "corrections.toml").read_text() == CORRECTIONS
        wrong += not (same and kept)
        number += 1
        row = f"{number:4}  {moment:7.1f}  {done:4}  {half:9}  {took_s:12.1f}"
        print(f"{row}  {'yes' if same else 'NO':>8}  {'kept' if kept else 'LOST':>11}", flush=True)
    print(f"{count} kills, {wrong} not as undisturbed")
    return wrong


def memory(root: Path, hours: float) -> None:
    """Peak memory of every stage, for a recording of 3 minutes and one of `hours`.

    Each stage runs in a process of its own. The pose is not among them: it reads the clip alone.
    """
    short = long_episode(root / "short", 180)
    long = long_episode(root / "long", 3600 * hours)
    print(f"\npeak memory, MB        3 min  {hours:g} h")
    peaks = {folder: peak_mb(folder) for folder in (short, long)}
    for stage in peaks[short]:
        print(f"{stage:<20} {peaks[short][stage]:7.0f} {peaks[long][stage]:7.0f}", flush=True)


def long_episode(folder: Path, seconds: float) -> Path:
    """The small episode with its recording, sound and captions repeated for so long."""
    small_episode.build(folder, start_s=20.0, length_s=60.0)
    once = folder / "once.mp4"
    (folder / "recording.mp4").rename(once)
    piece = folder / "piece.mp4"
    ffmpeg("-i", once, "-vf", f"fps={RATE},scale=320:-2", "-c:v", "libx264", "-preset", "veryfast",
           "-g", 20, "-c:a", "aac", piece)  # fmt: skip
    ffmpeg("-stream_loop", -1, "-i", piece, "-t", seconds, "-c", "copy", folder / "recording.mp4")
    lines = []
    for i in range(int(seconds // 10)):
        start = 10 * i
        for at, text in ((0.5, "Your layback at the finish is just right."),
                         (3.2, "At the catch I want the shins nearer vertical."),
                         (6.2, "Think let the seat come to the heels.")):  # fmt: skip
            number = len(lines) + 1
            lines.append(f"{number}\n{stamp(start + at)} --> {stamp(start + at + 2.5)}\n{text}\n")
    (folder / "captions.srt").write_text("\n".join(lines))
    return folder


def stamp(seconds: float) -> str:
    """SubRip's time."""
    ms = round(seconds * 1000)
    return f"{ms // 3600000:02}:{ms // 60000 % 60:02}:{ms // 1000 % 60:02},{ms % 1000:03}"


CHILD = """
import resource, sys, time
from pathlib import Path
from studio.episode import open_episode
from studio.pipeline import make
from studio.stages import STAGES
make(open_episode(Path(sys.argv[1])), STAGES, until=sys.argv[2])
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, time.process_time())
"""


def peak_mb(folder: Path) -> dict[str, float]:
    """Stage -> peak resident memory of a process that makes it, the stages before being made."""
    from studio.stages import STAGES

    peaks = {}
    for stage in STAGES:
        run = [sys.executable, "-c", CHILD, str(folder), stage.name]
        done = subprocess.run(
            run, capture_output=True, text=True, check=False, env=dict(os.environ)
        )
        if done.returncode:
            print(f"{stage.name}: {done.stderr.strip()[-300:]}")
            break
        peaks[stage.name], cpu_s = map(float, done.stdout.split()[-2:])
        row = {"stage": stage.name, "mb": round(peaks[stage.name]), "cpu_s": round(cpu_s)}
        print(json.dumps({"folder": folder.name, **row}), flush=True)
    return peaks
