"""What is drawn when: locked to the athlete, calm, out of the coach's way."""

from dataclasses import replace

import numpy as np
import pytest

from overlays import Patch, blend_yuv420, lay_yuv420, prepare_yuv420
from studio.deliver.drawing import Drawing
from studio.deliver.layers import Looks
from studio.deliver.onscreen import Pose, on_screen, ramp, to_screen
from studio.deliver.planes import same
from studio.deliver.plates import MOST_ANGLES
from studio.deliver.strokes import StrokeClock
from studio.model.playhead import DrawnArea
from studio.model.speech import Outline, TalkingPoint
from tests.edit_scene import AFFINE, make_plan, playhead, technique

REST = ((1.0, "absent", None, 0.0), (4.0, "paused", 1.5, 0.0), (1.0, "absent", None, 0.0))


def stage(parts=REST, *, drawn=(), outline=None, **changes):
    head = playhead(parts, drawn=drawn)
    if changes:
        head = replace(head, **changes)
    tech = technique()
    plan = make_plan(parts, playhead=head, outline=outline)
    table = on_screen(plan, head, tech, None)
    return plan, Looks(plan, table), Drawing(plan, table, tech, head)


def boxes(marks):
    return [m.box for m in marks if isinstance(m, Patch)]


def test_nothing_is_drawn_without_the_clip():
    _, looks, drawing = stage()
    assert drawing.marks(looks.at(0)) == []
    assert drawing.marks(looks.at(29)) == []
    assert drawing.marks(looks.at(60))
    assert drawing.marks(looks.at(155)) == []


def test_nothing_is_drawn_where_the_playhead_is_unsure():
    sure = playhead(REST).confidence.copy()
    sure[60:90] = 0.1
    _, looks, drawing = stage(confidence=sure)
    assert drawing.marks(looks.at(75)) == []
    assert drawing.marks(looks.at(120))


def test_a_resting_frame_looks_the_same_and_is_drawn_once():
    _, looks, drawing = stage()
    seen = [looks.at(n) for n in range(70, 110)]
    assert len(set(seen)) == 1
    assert drawing.marks(seen[0]) is drawing.marks(seen[-1])


def test_marks_come_in_slowly():
    _, looks, _ = stage()
    strengths = [looks.at(n).presence for n in range(28, 42)]
    assert strengths[0] == 0
    assert strengths[-1] == 16
    assert np.diff(strengths).max() <= 3


def test_joints_land_where_the_affine_puts_them():
    # shoulder at the catch: 80 - 8 = 72, 30 in the clip, on screen 1.2 x + 20 and 1.2 y + 12,
    # half a pixel less because overlays count from the first pixel's centre
    x, y = to_screen(AFFINE[0], Pose(technique().body).points(1.5)["shoulder"])
    assert (x, y) == pytest.approx((1.2 * 72 + 20 - 0.5, 1.2 * 30 + 12 - 0.5), abs=0.01)
    _, looks, drawing = stage()
    marks = boxes(drawing.marks(looks.at(100)))
    assert any(b.left <= x <= b.right and b.top <= y <= b.bottom for b in marks)


def test_between_two_frames_of_the_track_a_joint_is_between_its_places():
    pose = Pose(technique().body)
    a, b, middle = (pose.points(t)["handle"] for t in (10 / 30, 11 / 30, 10.5 / 30))
    np.testing.assert_allclose(middle, (a + b) / 2, atol=1e-6)


def test_an_unknown_joint_hides_only_itself():
    tech = technique()
    tech.body.points_px["elbow"][45] = np.nan
    points = Pose(tech.body).points(1.5)
    assert np.isnan(points["elbow"]).all()
    assert np.isfinite(points["shoulder"]).all()
    assert np.isfinite(Pose(tech.body).points(44 / 30)["elbow"]).all()


def test_at_most_three_angles_those_being_spoken_of_first():
    points = tuple(
        TalkingPoint("change", "catch", topic, topic, 1.0, 5.0)
        for topic in ("connection", "arm bend", "shins")
    )
    plan, looks, drawing = stage(outline=Outline((), points))
    look = looks.at(90)
    athlete = drawing._athlete
    scene = drawing._scene(look, athlete)
    cues = [(plan.overlays[a.cue], a) for a in look.active]
    fans = athlete.plates.fans(scene, cues)
    assert len(fans) == MOST_ANGLES
    assert {c.params["angle"] for c, _ in cues if c.kind == "angle_fan"} >= {
        "trunk",
        "knee",
        "elbow",
    }
    assert all(fan.accent == "change" for fan in fans.values())


def test_marks_make_way_for_the_coachs_drawing():
    area = (2.0, 4.0, (60.0, 30.0, 160.0, 110.0))
    _, looks, drawing = stage(drawn=(area,))
    free, busy = drawing.marks(looks.at(50)), drawing.marks(looks.at(100))
    assert looks.at(100).thin == 16
    inside = [
        b for b in boxes(busy) if b.left > 60 and b.right < 160 and b.top > 30 and b.bottom < 110
    ]
    assert inside == []
    assert len(busy) < len(free)


def test_the_strip_and_the_plates_keep_off_a_camera_window():
    window = DrawnArea(0.0, 10.0, (20.0, 90.0, 70.0, 128.0))
    _, looks, drawing = stage(covered=(window,))
    _, free_looks, free = stage()
    wide = [b for b in boxes(free.marks(free_looks.at(100))) if b.width > 120]
    narrow = boxes(drawing.marks(looks.at(100)))
    assert any(b.left < 70 for b in wide)
    strip = [b for b in narrow if b.width > 80]
    assert strip
    assert all(b.left >= 70 for b in strip)


def test_a_ramp_has_no_edge_at_the_programs_ends():
    flags = np.array([True] * 10 + [False] * 5 + [True] * 20)
    strength = ramp(flags, 30.0)
    assert strength[0] == 1
    assert strength[9] < 0.5
    assert not strength[10:15].any()
    assert strength[-1] == 1


def test_the_stroke_clock_knows_drive_and_recovery():
    clock = StrokeClock(technique())
    moment = clock.at(0.7)
    assert (moment.stroke.index, moment.driving) == (0, True)
    assert moment.now_s == pytest.approx(0.2)
    assert not clock.at(1.2).driving
    assert clock.at(0.2) is None
    held = clock.at(1.48)  # a picture held a frame before the second catch
    assert (held.stroke.index, held.now_s) == (1, 0.0)
    order = clock.recovery(1.2)
    assert order.arms == pytest.approx((0, 1 / 6))
    assert order.body == pytest.approx((1 / 6, 0.25 / 0.6))
    assert order.legs == pytest.approx((0.5, 1))
    assert order.now == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("levels", "samples", "still"),
    [(2, 64, True), (3, 3, True), (3, 4, False), (24, 3, True), (25, 1, False)],
)
@pytest.mark.parametrize("plane", [0, 2])
def test_an_encoders_noise_is_no_movement(levels, samples, still, plane):
    one, other = ([np.full((192 // n, 256 // n), 100, np.uint8) for n in (1, 2, 2)] for _ in "ab")
    other[plane][6, :samples] += levels  # between the rows that are looked at first
    # a sample stands for eight; 24 of these pictures' 49,152 may swing
    assert same(one, other, number=3) is still
    assert same(one, other, number=2)  # it looks at other rows


def test_prepared_steps_do_what_blending_does():
    _, looks, drawing = stage()
    marks = drawing.marks(looks.at(100))
    rng = np.random.default_rng(4)
    shapes = ((144, 240), (72, 120), (72, 120))
    one = tuple(rng.integers(16, 235, s, np.uint8) for s in shapes)
    other = tuple(p.copy() for p in one)
    blend_yuv420(one, marks, matrix="bt601")
    lay_yuv420(other, prepare_yuv420(marks, (240, 144), matrix="bt601"))
    for a, b in zip(one, other, strict=True):
        np.testing.assert_array_equal(a, b)
