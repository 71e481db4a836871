"""DEVELOPERS.md keeps its word: what it says one adds in one place then works everywhere.

The pose backend of the page runs in tests/contract/test_technique_backend.py.
"""

import csv
import re
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from overlays import Canvas, Patch, blend_bgr
from studio.config import Corrections, Settings, Sources
from studio.episode import Episode
from studio.pipeline import Stage, make
from studio.technique import measures
from studio.technique.analyse import analyse
from studio.technique.contract import to_contract
from studio.technique.table import measures_csv
from tests.docs.examples import PAGE, example, sources
from tests.edit_scene import make_plan
from tests.technique_rower import media, rower


def test_every_python_block_has_a_test():
    assert set(sources()) == {"backend", "overlay", "measure", "export"}
    assert PAGE.read_text(encoding="utf-8").count("```python") == len(sources())


def test_every_path_that_is_named_exists():
    text = PAGE.read_text(encoding="utf-8")
    root = PAGE.parent
    for path in set(
        re.findall(r"`((?:studio|overlays|tests|benchmarks|scripts|docs)/[\w./]*)`", text)
    ):
        assert (root / path).exists(), path
    for path in re.findall(r"\]\(([\w./]+)\)", text):
        assert (root / path).exists(), path


def test_a_measure_reaches_results_and_table(monkeypatch):
    kind = example("measure")["KNEE_TRAVEL"]
    monkeypatch.setattr(measures, "REGISTRY", (*measures.REGISTRY, kind))
    pose, _ = rower()
    technique = analyse(pose, media(), Settings(), Corrections())
    found = next(m for m in technique.measures if m.name == kind.name)
    # on its own way: the track's straightest knee less its most bent one
    knee = technique.body.angles_deg["knee"]
    assert found.value == pytest.approx(np.nanmax(knee) - np.nanmin(knee), abs=6)
    assert found.value > 60
    plain = to_contract(technique, media())["measures"]
    assert next(m for m in plain if m["name"] == kind.name)["unit"] == "deg"
    rows = list(csv.DictReader(measures_csv(technique).splitlines()))
    assert float(rows[-1]["median"]) == pytest.approx(found.value, rel=1e-3)


def test_an_overlay_draws_where_it_should_and_only_there():
    seat_ring = example("overlay")["SeatRing"]
    canvas = Canvas(640, 360)
    seat_ring(seat=(200.0, 250.0), text="seat", accent="keep").draw(canvas)
    boxes = [mark.box for mark in canvas.marks if isinstance(mark, Patch)]
    assert any(b.left <= 200 <= b.right and b.top <= 250 <= b.bottom for b in boxes)
    picture = np.full((360, 640, 3), 90, np.uint8)
    blend_bgr(picture, canvas.marks)
    rows, columns = np.nonzero((picture != 90).any(axis=2))
    assert len(rows)
    assert 80 < columns.min() < columns.max() < 320
    assert 150 < rows.min() < rows.max() < 350
    nothing = Canvas(640, 360)
    seat_ring(seat=(float("nan"), 250.0), text="seat").draw(nothing)
    seat_ring(seat=(200.0, 250.0), text="seat", opacity=0.0).draw(nothing)
    assert nothing.marks == []


def test_an_export_is_written_once_and_again_when_the_plan_changes(tmp_path: Path):
    (tmp_path / "c.mp4").write_text("a clip")
    episode = Episode(tmp_path, Settings(sources=Sources(clip="c.mp4")), Corrections())
    holds = example("export")["HOLDS"]
    plan = make_plan()
    assert plan.holds

    def planned(version: int) -> tuple[Stage, ...]:
        def run(job):
            return plan

        return (Stage("plan", version, (), run, kind="studio.model.plan:EditPlan"), holds)

    assert [ran.stage for ran in make(episode, planned(1))] == ["plan", "holds"]
    rows = list(csv.DictReader((episode.out / "holds.csv").read_text().splitlines()))
    assert [r["phase"] for r in rows] == [h.phase for h in plan.holds]
    starts = [Fraction(r["program_start_s"]) for r in rows]
    assert all(abs(s - h.program_start_s) < Fraction(1, 1000)
               for s, h in zip(starts, plan.holds, strict=True))  # fmt: skip
    assert make(episode, planned(1)) == []
    plan = make_plan(((1.0, "absent", None, 0.0), (3.0, "playing", 0.0, 1.0)))
    assert [ran.stage for ran in make(episode, planned(2))] == ["plan", "holds"]
