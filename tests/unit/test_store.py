import json
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
import pytest

from studio import store
from studio.errors import OutputError
from studio.model.arrays import Array


@dataclass(frozen=True)
class Thing:
    name: str
    at: Fraction
    curve: Array
    parts: dict[str, Array]
    note: str | None = None


def thing():
    return Thing("x", Fraction(1001, 30000), np.array([1.5, np.nan]), {"a": np.arange(3)})


def test_a_data_class_comes_back_as_it_was(tmp_path):
    path = tmp_path / "thing.json"
    store.save(path, thing())
    back = store.load(path, Thing)
    assert (back.name, back.at, back.note) == ("x", Fraction(1001, 30000), None)
    np.testing.assert_array_equal(back.curve, [1.5, np.nan])
    np.testing.assert_array_equal(back.parts["a"], [0, 1, 2])


def test_equal_values_give_equal_bytes(tmp_path):
    for name in ("a", "b"):
        store.save(tmp_path / f"{name}.json", thing())
    assert (tmp_path / "a.json").read_bytes() == (tmp_path / "b.json").read_bytes()
    assert (tmp_path / "a.npz").read_bytes() == (tmp_path / "b.npz").read_bytes()


def test_nothing_is_left_behind_when_writing_fails(tmp_path):
    path = tmp_path / "out.txt"
    path.write_text("old")

    def fail():
        with store.write_aside(path) as aside:
            aside.write_text("half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_an_unwritable_place_is_told_in_one_line(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        store.write_text(tmp_path / "file" / "x.txt", "x")


def test_staleness_is_noticed_and_explained(tmp_path):
    work = tmp_path / "work"
    files = store.save(work / "s.json", thing())
    assert store.stale_reason(work, "s", "k") == "never made"
    store.mark(work, "s", "k", files)
    assert store.stale_reason(work, "s", "k") == ""
    assert "changed" in store.stale_reason(work, "s", "other")
    data = bytearray(files[1].read_bytes())
    data[len(data) // 2] ^= 1
    files[1].write_bytes(data)
    assert "damaged" in store.stale_reason(work, "s", "k")
    files[1].unlink()
    assert "missing" in store.stale_reason(work, "s", "k")
    (work / "keys" / "s.json").write_text("[]")
    assert store.stale_reason(work, "s", "k") == "never made"


def test_json_holds_letters_as_they_are_and_the_names_of_other_encodings(tmp_path):
    value = {"name": "Zoë 🚣", "file": "caf\udce9.mp4"}
    store.write_json(tmp_path / "x.json", value)
    text = (tmp_path / "x.json").read_text(encoding="utf-8")
    assert "Zoë 🚣" in text
    assert json.loads(text) == value
