"""What this computer has of what Launchside needs."""

from __future__ import annotations

import importlib.metadata
import importlib.util
import platform
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from studio import __version__
from studio.errors import LaunchsideError

PACKAGES = ("av", "mediapipe", "opencv-contrib-python", "faster-whisper", "moviepy", "numpy",
            "pysrt", "opentimelineio")  # fmt: skip
ROOM_GB = 5
"""A half-hour episode at 1080p with its work files stays well below this."""


@dataclass(frozen=True, slots=True)
class Check:
    """One line of the table; `remedy` says what to do when it is not good."""

    name: str
    good: bool
    found: str
    remedy: str = ""


def look() -> list[Check]:
    """Check everything; never raises for something that is merely missing."""
    python = platform.python_version()
    return [
        Check("launchside", True, __version__),
        Check("python", (3, 11) <= sys.version_info < (3, 13), python, "Use Python 3.11 or 3.12."),
        *(_package(name) for name in PACKAGES),
        _one_opencv(),
        _tried("ffmpeg (in the package)", _ffmpeg),
        _tried("speech model: base", lambda: _speech_model("base")),
        _tried("speech model: tiny.en", lambda: _speech_model("tiny.en")),
        Check("pose weights", True, _pose_weights()),
        _tried("fonts", _fonts),
        _disk(),
    ]


def _package(name: str) -> Check:
    try:
        return Check(name, True, importlib.metadata.version(name))
    except importlib.metadata.PackageNotFoundError:
        return Check(name, False, "missing", f"pip install {name}")


def _one_opencv() -> Check:
    """Two builds share the folder `cv2`: the one installed last wins, removing one empties it."""
    others = ("opencv-python", "opencv-python-headless", "opencv-contrib-python-headless")
    present = {d.metadata["Name"] for d in importlib.metadata.distributions()}
    extra = [name for name in others if name in present]
    remedy = "Make a fresh environment and install Launchside alone."
    return Check("one OpenCV build", not extra, ", ".join(["contrib", *extra]), remedy)


def _tried(name: str, find: Callable[[], str]) -> Check:
    try:
        return Check(name, True, find())
    except LaunchsideError as error:
        return Check(name, False, error.message, error.hint)
    except (ImportError, OSError, RuntimeError) as error:
        return Check(name, False, str(error), "Install Launchside again in a fresh environment.")


def _ffmpeg() -> str:
    import imageio_ffmpeg

    return str(imageio_ffmpeg.get_ffmpeg_version())


def _speech_model(name: str) -> str:
    from studio.progress import Quiet
    from studio.speech.weights import model_folder

    return str(model_folder(name, progress=Quiet()))


def _pose_weights() -> str:
    from studio.technique.models import heavy_weights

    return "heavy" if heavy_weights() else "full (better ones: launchside models heavy)"


def _fonts() -> str:
    from overlays.lettering import font_files

    return ", ".join(Path(path).stem for path in font_files())


def _disk() -> Check:
    cache = Path(platformdirs.user_cache_dir("launchside"))
    there = next(p for p in (cache, *cache.parents) if p.exists())
    free = shutil.disk_usage(there).free / 1e9
    return Check("free disk", free > ROOM_GB, f"{free:.0f} GB", f"Free at least {ROOM_GB} GB.")
