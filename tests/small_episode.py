"""A whole episode small enough to make in seconds: the sample project, cut and scaled."""

import hashlib
import shutil
import subprocess
from pathlib import Path

import av
import imageio_ffmpeg

SAMPLE = Path(__file__).parent.parent / "sample_project"
CAPTIONS = """1
00:00:00,500 --> 00:00:03,000
Your layback at the finish is just right.

2
00:00:03,200 --> 00:00:06,000
At the catch I want the shins nearer vertical.

3
00:00:06,200 --> 00:00:09,500
Think "let the seat come to the heels".
"""


def ffmpeg(*args):
    """The packaged ffmpeg; fails the test when it fails."""
    run = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", "-y", *map(str, args)]
    subprocess.run(run, check=True, stdin=subprocess.DEVNULL)


def build(folder: Path, start_s: float = 30.0, length_s: float = 10.0) -> Path:
    """An episode folder in `folder`, with captions, so that nothing need be transcribed."""
    folder.mkdir(parents=True)
    encoder = ["-c:v", "libx264", "-preset", "veryfast", "-crf", "20"]
    ffmpeg(
        "-i", SAMPLE / "clip.mp4", "-t", 4.5, "-vf", "scale=480:-2", *encoder, folder / "clip.mp4"
    )
    ffmpeg("-ss", start_s, "-t", length_s, "-i", SAMPLE / "recording.mp4", "-vf", "scale=640:-2",
           *encoder, folder / "recording.mp4")  # fmt: skip
    (folder / "captions.srt").write_text(CAPTIONS)
    settings = (SAMPLE / "episode.toml").read_text()
    # the same weights on every computer
    added = '[clip]\nweights = "full"\n\n[sources]\ncaptions = "captions.srt"\n'
    (folder / "episode.toml").write_text(settings.replace("[sources]\n", added))
    return folder


def copy(made: Path, folder: Path) -> Path:
    """A copy of an episode with all its results."""
    return Path(shutil.copytree(made, folder))


def contents(folder):
    """Of every deliverable: digest of its bytes, or of its frames and their times."""
    found = {}
    for path in sorted((folder / "out").rglob("*")):
        if path.suffix == ".mp4":
            found[path.name] = frames(path)
        elif path.is_file():
            found[path.name] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


def frames(path):
    """Digest of every frame's planes and pts."""
    digest = hashlib.sha256()
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            digest.update(str(frame.pts).encode())
            for plane in frame.planes:
                digest.update(bytes(plane))
    return digest.hexdigest()
