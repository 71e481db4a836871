"""What an edit leads to: measures, captions, chapters and plan follow at once."""

import pytest

from studio.review import page
from studio.review.desk import Desk
from studio.review.sheet import EditError
from tests import review_scene


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    return review_scene.build(tmp_path_factory.mktemp("desk") / "episode")


@pytest.fixture
def desk(made):
    for path in (made / "corrections.toml", made / "work" / "desk" / "history.json"):
        path.unlink(missing_ok=True)
    (made / "episode.toml").write_text(review_scene.EPISODE)
    return Desk(made)


def edit(desk, op, **args):
    desk.edit(desk.journal.revision(), op, args)
    return desk.state()


def measure(state, name):
    return next(m for m in state["technique"]["measures"] if m["name"] == name)


def test_a_moved_catch_changes_the_rate_as_arithmetic_says(desk):
    before = desk.state()
    stroke = before["technique"]["strokes"][0]
    to_s = stroke["catch_s"] + 0.1
    after = edit(desk, "move_event", event="catch", from_s=stroke["catch_s"], to_s=to_s)
    first = after["technique"]["strokes"][0]
    assert first["catch_s"] == pytest.approx(to_s, abs=2e-3)
    cycle_s = first["next_catch_s"] - first["catch_s"]
    assert measure(after, "rate")["per_stroke"][0] == pytest.approx(60 / cycle_s, abs=0.1)


def test_a_moved_shoulder_changes_the_lean_by_the_angle_it_was_moved(desk):
    """Trigonometry: the trunk's angle from the two points that the page shows."""
    import numpy as np

    state = desk.state()
    catch_s = state["technique"]["strokes"][1]["catch_s"]
    body = desk.live.technique.body
    row = int(np.argmin(np.abs(body.time_s - catch_s)))
    x, y = (float(v) for v in body.points_px["shoulder"][row])
    edit(desk, "move_joint", clip_s=float(body.time_s[row]), joint="shoulder", x_px=x + 12, y_px=y)
    moved = desk.live.technique.body
    hip = moved.points_px["hip"][row]
    wanted = np.degrees(np.arctan2(x + 12 - hip[0], hip[1] - y))
    assert moved.angles_deg["trunk"][row] == pytest.approx(wanted, abs=1.0)
    assert moved.angles_deg["trunk"][row] - body.angles_deg["trunk"][row] > 8


def test_a_stroke_marked_wrong_goes_and_comes_back(desk):
    before = desk.state()["technique"]["strokes"]
    catch_s = before[1]["catch_s"]
    after = edit(desk, "wrong_stroke", catch_s=catch_s, wrong=True)
    assert all(s["catch_s"] != catch_s for s in after["technique"]["strokes"])
    assert len(after["wrong_strokes"]) == 1
    again = edit(desk, "wrong_stroke", catch_s=catch_s, wrong=False)
    assert [s["catch_s"] for s in again["technique"]["strokes"]] == [s["catch_s"] for s in before]


def test_an_edit_that_leaves_no_episode_is_refused_and_not_saved(desk):
    with pytest.raises(EditError, match="not on screen"):
        edit(desk, "add_hold", recording_s=0.2, phase="catch", seconds=2)  # the clip is absent
    assert not (desk.folder / "corrections.toml").exists()
    assert desk.state()["undo"] is None
    assert desk.state()["redo"] is None
    assert desk.live.troubles == ()


def test_captions_split_and_merged_show_in_rows_and_on_screen(desk):
    first, second = desk.state()["captions"][:2]
    state = edit(desk, "caption", recording_s=first["key_s"], changes={"join_next": True})
    assert state["captions"][0]["text"] == f"{first['text']} {second['text']}"
    on_screen = " ".join(" ".join(c[2] for c in state["cues"]).split())
    assert state["captions"][0]["text"] in on_screen
    assert all(c["key_s"] != second["key_s"] for c in state["captions"])
    desk.edit(desk.journal.revision(), "undo", {})
    at = first["text"].index(" to ")
    state = edit(desk, "caption", recording_s=first["key_s"], changes={"split_at": at})
    assert state["cues"][0][2] == first["text"][:at]


def test_a_misheard_word_is_first_noticed_then_mended_everywhere(desk):
    state = desk.state()
    assert any("kech" in look["text"] for look in state["attention"])
    state = edit(desk, "fix_word", heard="kech", text="catch")
    assert not any("kech" in look["text"] for look in state["attention"])
    assert any("catch is long" in c["text"] for c in state["captions"])


def test_a_wrong_catch_deserves_a_look(desk):
    assert not any("still moving" in look["text"] for look in desk.state()["attention"])
    catch_s = desk.state()["technique"]["strokes"][1]["catch_s"]
    state = edit(desk, "move_event", event="catch", from_s=catch_s, to_s=catch_s + 0.35)
    (look, *_) = [a for a in state["attention"] if "still moving at this catch" in a["text"]]
    assert look["clock"] == "clip"
    assert look["time_s"] == pytest.approx(catch_s + 0.35, abs=2e-3)


def test_without_consent_the_first_thing_to_look_at_is_consent(desk):
    state = edit(desk, "setting", name="athlete.consent", value="unknown")
    assert "Consent" in state["attention"][0]["text"]


def test_a_rejected_finding_stays_in_sight_and_out_of_the_episode(desk):
    finding = desk.state()["technique"]["findings"][0]
    state = edit(desk, "judge_finding", code=finding["code"], verdict="reject")
    (shown,) = [f for f in state["technique"]["findings"] if f["code"] == finding["code"]]
    assert shown["verdict"] == "reject"
    assert finding["code"] not in {f.code for f in desk.live.technique.findings}


def test_a_rejected_point_no_longer_reaches_the_plan(desk):
    from studio.review.live import accepted

    point = desk.state()["points"][0]
    edit(desk, "judge_point", kind=point["kind"], recording_s=point["start_s"], verdict="reject")
    assert point["text"] not in {p.text for p in accepted(desk.live).points}
    assert desk.state()["points"][0]["verdict"] == "reject"


def test_a_hold_moved_lengthened_and_dropped(desk):
    hold = next(h for h in desk.state()["program"]["holds"] if h["recording_s"])
    state = edit(desk, "lengthen_hold", recording_s=hold["recording_s"], seconds=4)
    assert any(h["duration_s"] == pytest.approx(4, abs=0.05) for h in state["program"]["holds"])
    state = edit(desk, "drop_hold", recording_s=hold["recording_s"])
    assert len(state["dropped_holds"]) == 1
    state = edit(desk, "restore", what="holds", recording_s=state["dropped_holds"][0])
    assert state["dropped_holds"] == []


def test_an_edit_by_hand_in_another_program_is_taken_up(desk):
    (desk.folder / "corrections.toml").write_text('[[words]]\nheard = "kech"\ntext = "catch"\n')
    assert any("catch is long" in c["text"] for c in desk.state()["captions"])


def test_packed_arrays_are_little_endian_32_bit():
    """Read back with the standard library's struct."""
    import base64
    import struct

    import numpy as np

    packed = page.packed(np.array([[1.5, float("nan")], [-2.0, 0.25]]), "f4")
    values = struct.unpack("<4f", base64.b64decode(packed))
    assert values[0] == 1.5
    assert values[1] != values[1]
    assert values[2:] == (-2.0, 0.25)
