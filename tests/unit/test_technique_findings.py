import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from studio.config import Corrections, FindingVerdict, Settings
from studio.errors import ConfigError
from studio.technique.analyse import analyse
from studio.technique.check import check
from studio.technique.contract import to_contract
from studio.technique.findings import drive_reference_s, find, ranges, ratio_reference, shin_words
from studio.technique.measures import REGISTRY, bow
from studio.technique.table import measures_csv
from tests.technique_rower import media, rower, seen_from

# Kleshnev, Rowing Biomechanics Newsletter 2021, drive 0.91 s at 36 spm + 15 ms/spm:
# rate -> drive s, recovery s, recovery over drive
D3 = {18: (1.18, 2.15, 1.82), 20: (1.15, 1.85, 1.61), 24: (1.09, 1.41, 1.29),
      28: (1.03, 1.11, 1.08), 32: (0.97, 0.91, 0.93), 36: (0.91, 0.76, 0.83)}  # fmt: skip


@pytest.mark.parametrize(("rate", "row"), D3.items())
def test_rhythm_reference_is_the_published_line(rate, row):
    drive, recovery, ratio = row
    assert drive_reference_s(rate) == pytest.approx(drive, abs=0.006)
    assert 60 / rate - drive_reference_s(rate) == pytest.approx(recovery, abs=0.006)
    assert ratio_reference(rate) == pytest.approx(ratio, abs=0.02)


def analysed(settings=None, corrections=None, **how):
    pose, _ = rower(**how)
    return analyse(pose, media(), settings or Settings(), corrections or Corrections())


def codes(technique):
    return {f.code for f in (*technique.findings, *technique.further)}


def test_deep_layback_is_found_with_evidence_at_the_finishes():
    technique = analysed(layback=38)
    finding = next(f for f in technique.findings if f.code == "excess_layback")
    finishes = [s.finish_s for s in technique.strokes if s.finish_s is not None]
    assert finding.evidence_s == pytest.approx(finishes, abs=0.002)
    assert finding.kind == "change"
    assert "doctor" in finding.caution or "physiotherapist" in finding.caution


def test_a_difference_within_the_error_is_no_finding():
    high = ranges()["layback"]["high"]
    measured = next(m for m in analysed(layback=high).measures if m.name == "layback")
    own = replace(Settings(), ranges={"layback": {"low": 5.0, "high": measured.value - 1.0}})
    assert not codes(analysed(own, layback=high)) & {"excess_layback", "good_layback"}


def test_the_coach_overrides_a_range_and_rejects_a_finding():
    own = replace(Settings(), ranges={"layback": {"high": 10.0}})
    assert "excess_layback" in codes(analysed(own))
    no = Corrections(findings=(FindingVerdict("excess_layback", "reject"),))
    assert "excess_layback" not in codes(analysed(own, no))


@pytest.mark.parametrize("bad", [{"laybak": {"low": 1.0}}, {"layback": {"lowest": 1.0}}])
def test_unknown_ranges_are_told(bad):
    with pytest.raises(ConfigError, match=r"ranges\.lay"):
        analysed(replace(Settings(), ranges=bad))


def test_at_most_three_of_each_kind_and_the_rest_kept_aside():
    technique = analysed(layback=40, lean=8, arms_from=0.1)
    kinds = [f.kind for f in technique.findings]
    assert kinds.count("keep") <= 3
    assert kinds.count("change") <= 3
    assert not {f.code for f in technique.findings} & {f.code for f in technique.further}


def test_every_text_of_the_data_file_can_be_said():
    names = {kind.name for kind in REGISTRY}
    for measure, row in ranges().items():
        assert measure in names
        assert row["source"]
        assert 0 < row["weight"] <= 1
        for side in ("above", "below", "within"):
            words = row.get(side)
            if words is None:
                continue
            numbers = dict.fromkeys(
                ("value", "value_abs", "value_percent", "lean", "shin_words", "rate", "usual",
                 "arms", "n"), "7")  # fmt: skip
            assert "{" not in words["text"].format(**numbers)
            assert words["coaching_cue"]
            assert side == "within" or words["drill"]
            risky = measure in ("layback", "catch_length", "lean", "lunge", "wrist")
            assert not (risky and side != "within") or words["caution"]


def test_shins_in_words():
    assert shin_words(0.4) == "upright"
    assert shin_words(-9.4) == "9 degrees short of upright"
    assert shin_words(6.0) == "6 degrees past upright"


def test_bow_of_a_known_arc():
    # sagitta over chord of a circular arc of 60 degrees: (1 - cos 30) / (2 sin 30)
    angle = np.radians(np.linspace(-30, 30, 15))
    arc = 100 * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    assert bow(arc) == pytest.approx((1 - np.cos(np.pi / 6)) / (2 * np.sin(np.pi / 6)), rel=0.05)
    assert bow(np.stack([np.linspace(0, 1, 15) * 80, np.zeros(15)], axis=1)) == pytest.approx(0)
    assert bow(np.full((15, 2), np.nan)) is None


def test_contract_has_every_key_and_null_for_the_unknown():
    technique = analysed()
    plain = to_contract(technique, media())
    assert (plain["schema"], plain["version"]) == ("launchside.strokes", 1)
    rows = plain["clip"]["frames"]
    for name in ("trunk_deg", "shin_deg", "knee_deg", "elbow_deg", "hip_deg"):
        assert len(plain["angles"][name]) == rows
    for name in ("shoulder", "elbow", "wrist", "hip", "knee", "ankle", "heel", "toe", "ear",
                 "handle"):  # fmt: skip
        assert len(plain["points_px"][name]) == rows
    assert plain["strokes"][-1]["rate_spm"] is None
    assert plain["strokes"][0]["rate_spm"] == pytest.approx(24, rel=0.01)
    assert plain["clip"]["time_factor"] == 1.0
    assert {"name", "label", "value", "unit", "spread", "strokes", "confidence"} <= set(
        plain["measures"][0]
    )


def test_measures_csv_reads_back_with_one_column_a_stroke():
    technique = analysed()
    rows = list(csv.DictReader(io.StringIO(measures_csv(technique))))
    by_name = {r["measure"]: r for r in rows}
    assert {m.name for m in technique.measures} <= set(by_name)
    assert float(by_name["rate"]["median"]) == pytest.approx(24, rel=0.01)
    assert float(by_name["catch_s"]["stroke 1"]) == pytest.approx(0.4, abs=0.02)
    assert by_name["rate"]["stroke 4"] == ""


def test_check_passes_a_good_clip_and_names_what_to_change():
    pose, _ = rower()
    technique = analysed()
    good = check(media(), pose, technique, Settings())
    assert good.fit
    assert "just right" in good.note
    few = replace(technique, strokes=technique.strokes[:1])
    alias = replace(Settings(), athlete=replace(Settings().athlete, alias="Mira"))
    poor = check(media(fps=15), replace(pose, width_px=900), few, alias)
    wrong = {p.name for p in poor.points if not p.good}
    assert not poor.fit
    assert {"frame rate", "strokes", "handle"} <= wrong
    assert poor.note.startswith("Hi Mira,")
    assert "30 frames a second" in poor.note


def test_too_far_off_square_gives_no_angle_and_says_how_to_film():
    pose = seen_from(rower()[0], 50)
    technique = analyse(pose, media(), Settings(), Corrections())
    assert technique.view.yaw_deg == pytest.approx(50, abs=1)
    assert not technique.view.square
    lean = next(m for m in technique.measures if m.name == "lean")
    assert lean.value is None
    assert "off square" in lean.reason
    assert any("straight from the side" in n for n in technique.notices)
    assert next(m.value for m in technique.measures if m.name == "rate") is not None


def test_half_strokes_at_the_start_change_no_measure():
    pose, truth = rower(strokes=5)
    finish = int(np.argmin(np.abs(pose.time_s - truth.finishes_s[0])))
    catch = int(np.argmin(np.abs(pose.time_s - truth.catches_s[1])))
    way = np.arange(finish, finish + round(0.55 * (catch - finish)))
    half = np.concatenate([way, way[-2:0:-1]])
    rows = np.concatenate([half] * 6 + [np.arange(finish, len(pose.time_s))])
    fields = ("xy_px", "score", "world_m", "back_px", "camera_px")
    begun = replace(pose, time_s=np.arange(len(rows)) / 30,
                    **{name: getattr(pose, name)[rows] for name in fields})  # fmt: skip
    plain, mixed = (analyse(p, media(), Settings(), Corrections()) for p in (pose, begun))
    assert len(mixed.strokes) >= len(plain.strokes) + 1
    for a, b in zip(plain.measures, mixed.measures, strict=True):
        if a.value is not None:
            assert b.value == pytest.approx(a.value, abs=0.5 * a.error), a.name


def test_a_view_off_square_is_stated_to_be_less_sure():
    square, askew = (analyse(seen_from(rower()[0], yaw), media(), Settings(), Corrections())
                     for yaw in (0, 30))  # fmt: skip
    for a, b in zip(square.measures, askew.measures, strict=True):
        assert a.error is not None
        assert b.error is not None
        grows = a.unit not in ("s", "spm", "ratio")
        assert b.error == pytest.approx(a.error * (2.4 if grows else 1.0), abs=0.001)


def test_a_keep_does_not_stand_beside_the_change_that_says_the_opposite():
    technique = analysed()

    def found(**values):
        measures = tuple(
            replace(m, value=values[m.name]) if m.name in values else m for m in technique.measures
        )
        kept, further = find(replace(technique, measures=measures), Settings(), set())
        return {f.code for f in (*kept, *further)}

    assert "shins_upright" in found(shin=-2.0, catch_length=25.0)
    short = found(shin=-2.0, catch_length=0.0)
    assert "short_catch" in short
    assert "shins_upright" not in short
