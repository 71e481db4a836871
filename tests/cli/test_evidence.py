"""Whole makes of clips and recordings that can be read but show the wrong thing."""

import os
import shutil
import subprocess
import sys

import pytest

from tests import small_episode
from tests.small_episode import ffmpeg

X264 = ("-c:v", "libx264", "-preset", "veryfast", "-pix_fmt", "yuv420p")
PATTERN = ("-f", "lavfi", "-i", "testsrc=s=320x180:r=30:d=1.5")
PLAIN = {name: value for name, value in os.environ.items() if name != "LAUNCHSIDE_DEBUG"}


@pytest.fixture(scope="module")
def sources(tmp_path_factory):
    """The sources of an episode of four seconds."""
    return small_episode.build(tmp_path_factory.mktemp("evidence") / "sources", length_s=4.0)


def refusal(folder, code):
    """What a make that cannot be done says: one line, and nothing delivered."""
    run = [sys.executable, "-m", "studio.cli.main", "make", "-q", str(folder)]
    done = subprocess.run(run, capture_output=True, text=True, env=PLAIN, check=False)
    assert done.returncode == code, done.stderr
    assert done.stderr.count("\n") == 1
    assert not list((folder / "out").rglob("*"))
    return done.stderr


@pytest.fixture
def episode(sources, tmp_path):
    """A copy to spoil."""
    shutil.copytree(sources, tmp_path / "episode")
    return tmp_path / "episode"


def test_a_clip_without_a_person(episode):
    ffmpeg(*PATTERN, *X264, episode / "clip.mp4")
    said = refusal(episode, 4)
    assert "clip.mp4: nobody can be seen in the clip. Film one athlete from the side" in said


def test_a_clip_of_somebody_who_does_not_move(episode):
    still = ("select=eq(n\\,0),loop=40:1:0,setpts=N/30/TB",)
    moving = small_episode.SAMPLE / "clip.mp4"
    ffmpeg("-i", moving, "-vf", *still, "-r", 30, "-t", 1.3, *X264, episode / "clip.mp4")
    assert "clip.mp4: no stroke can be seen" in refusal(episode, 4)


def test_a_picture_instead_of_a_clip(episode):
    picture = episode / "catch.png"
    ffmpeg(*PATTERN, "-frames:v", 1, picture)
    picture.rename(episode / "clip.mp4")
    assert "holds a single picture" in refusal(episode, 3)


@pytest.mark.slow
def test_a_recording_that_never_shows_the_clip(episode):
    ffmpeg(*PATTERN, "-vf", "loop=100:1:0", "-t", 4, *X264, episode / "recording.mp4")
    assert "is never on screen in" in refusal(episode, 4)


@pytest.mark.slow
def test_two_athletes_side_by_side_are_an_episode_of_one(episode):
    clip = episode / "clip.mp4"
    both = (
        "[0:v]scale=320:-2[a];[0:v]scale=320:-2,hflip,tpad=start=8:start_mode=clone[b];[a][b]hstack"
    )
    alone = clip.rename(episode / "alone.mp4")
    ffmpeg("-i", alone, "-filter_complex", both, *X264, clip)
    run = [sys.executable, "-m", "studio.cli.main", "strokes", str(clip)]
    done = subprocess.run(run, capture_output=True, text=True, env=PLAIN, check=False)
    assert done.returncode == 0, done.stderr
