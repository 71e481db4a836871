from dataclasses import replace

import numpy as np
import pytest

from studio.config import MovedJoint
from studio.model.pose import LANDMARKS
from studio.technique.back import STATIONS, back_outline
from studio.technique.body import body_track, bridge, despike, one_person, smooth, steady, unsteady
from studio.technique.camera import CameraMotion
from studio.technique.joints import ACROMION_SHARE, _in_crook, in_arm_plane, joint_centres
from studio.technique.level import picture_roll
from tests.technique_rower import rower


def test_short_gaps_are_bridged_and_long_ones_stay():
    xy = np.stack([np.arange(30.0), np.zeros(30)], axis=1)
    xy[5:7] = np.nan
    xy[15:25] = np.nan
    filled = bridge(xy, 3)
    assert filled[5:7, 0] == pytest.approx([5, 6])
    assert np.isnan(filled[15:25]).all()


def test_smoothing_has_no_lag():
    t = np.arange(0, 4, 1 / 30)
    xy = np.stack([np.cos(2 * np.pi * t), t], axis=1)
    assert smooth(xy, 7) == pytest.approx(xy, abs=0.02)


def test_a_wild_point_is_dropped_and_the_turn_is_not():
    t = np.arange(0, 4, 1 / 30)
    xy = np.stack([300 * np.cos(2 * np.pi * t / 2), np.zeros_like(t)], axis=1)
    xy[40] += 200
    out = despike(xy)
    assert np.flatnonzero(np.isnan(out).any(axis=1)).tolist() == [40]


def test_shoulder_moves_down_the_arm_by_the_published_share():
    # de Leva 1996, J Biomech 29:1231: shoulder joint centre 10.4 % of the upper arm below acromion
    pose, _ = rower()
    at = {n: pose.xy_px[:, LANDMARKS.index(f"right_{n}")].astype(float) for n in
          ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")}  # fmt: skip
    at["handle"] = at["wrist"] + (30.0, 0.0)
    moved = joint_centres(at, 1)
    step = np.linalg.norm(moved["shoulder"] - at["shoulder"], axis=1)
    arm = np.linalg.norm(at["elbow"] - at["shoulder"], axis=1)
    assert step / arm == pytest.approx(ACROMION_SHARE)
    assert pytest.approx(0.104) == ACROMION_SHARE


def test_the_shoulders_offset_makes_part_of_the_arms_turn():
    # between the arm's own turn (de Leva) and the blade's third of it (Inman 1944, from memory)
    marks = {"shoulder": (0.0, 0.0), "hip": (0.0, 200.0), "elbow": (100.0, 0.0),
             "wrist": (200.0, 0.0), "handle": (220.0, 0.0), "knee": (200.0, 200.0),
             "ankle": (400.0, 200.0)}  # fmt: skip
    at = {name: np.tile(xy, (6, 1)) for name, xy in marks.items()}
    x, y = joint_centres(at, 1)["shoulder"][0]
    assert np.degrees(np.arctan2(x, y)) == pytest.approx(60, abs=2)  # of 90
    assert np.hypot(x, y) == pytest.approx(10.4)


def test_a_bent_elbows_mark_lies_in_the_crook_and_a_straight_ones_does_not():
    shoulder, wrist = np.zeros((2, 2)), np.full((2, 2), 100.0)
    elbow = np.array([(0.0, 100.0), (50.0, 50.0)])  # bent to a right angle, and straight
    bent, straight = _in_crook(shoulder, elbow, wrist, 200.0)
    # the hip's 8 % of the trunk on a limb a third as thick, half of it at a right angle
    assert bent == pytest.approx(200 * 0.08 / 3 / 2 * np.array([1, -1]) / np.sqrt(2))
    assert np.nan_to_num(straight) == pytest.approx([0, 0], abs=1e-6)


@pytest.mark.parametrize(("wrist", "gained"), [((1.15, 0.25), 0.92), ((0.55, 0.5), 0.0)])
def test_an_elbow_lifted_sideways_is_put_back_into_the_arms_plane(wrist, gained):
    # a pinhole camera four metres away; the elbow is 20 cm nearer to it than shoulder and hand
    focal, away, lift = 1280.0, 4.0, 0.2
    joints = {"shoulder": (1.3, 0.0), "elbow": (0.925, 0.25), "wrist": wrist}
    flat = {n: focal / away * np.array([xy]) for n, xy in joints.items()}
    seen = {**flat, "elbow": focal / (away - lift) * np.array([joints["elbow"]])}
    nearer = np.array([lift * focal / away])
    put_back = in_arm_plane(seen, nearer, np.zeros(2), focal)
    off, left = (np.linalg.norm(e - flat["elbow"]) for e in (seen["elbow"], put_back))
    assert 1 - left / off == pytest.approx(gained, abs=0.03)  # counts as far as the arm is bent
    unknown = in_arm_plane(seen, np.array([np.nan]), np.zeros(2), focal)
    assert unknown == pytest.approx(seen["elbow"])


def test_a_knees_mark_that_the_lengths_contradict_is_not_followed():
    pose, _ = rower()
    knee = LANDMARKS.index("right_knee")
    true = body_track(pose)
    xy = pose.xy_px.copy()
    rows = slice(40, 60)  # a dark picture: the mark sits on a hand, far behind the knee
    xy[rows, knee] -= (90.0, 0.0)
    seen = body_track(replace(pose, xy_px=xy))
    off = np.linalg.norm(seen.points_px["knee"] - true.points_px["knee"], axis=1)
    assert off[44:56].max() < 30
    assert off[:30].max() < 1


def test_straight_limbs_read_straight_whatever_the_mark_says():
    pose, _ = rower()
    knee = LANDMARKS.index("right_knee")
    xy = pose.xy_px.copy()
    xy[:, knee] += (0.0, -9.0)  # a mark on top of the knee
    off, true = (body_track(replace(pose, xy_px=x)).angles_deg["knee"] for x in (xy, pose.xy_px))
    assert np.nanmax(off) == pytest.approx(np.nanmax(true), abs=2.5)
    assert np.nanmin(off) == pytest.approx(np.nanmin(true), abs=3.0)


def test_a_point_put_right_draws_its_neighbours_along():
    pose, _ = rower()
    before = body_track(pose)
    row = 40
    x, y = before.points_px["hip"][row] + np.float32(12)
    fix = MovedJoint(float(pose.time_s[row]), "hip", float(x), float(y))
    after = body_track(pose, moved=(fix,))
    moved = np.linalg.norm(after.points_px["hip"] - before.points_px["hip"], axis=1)
    assert moved[row] == pytest.approx(12 * np.sqrt(2), abs=0.1)
    assert 0 < moved[row + 2] < moved[row]
    assert moved[row + 10] == 0
    assert after.angles_deg["trunk"][row] != pytest.approx(before.angles_deg["trunk"][row], abs=0.5)


def test_the_face_is_held_and_bridged():
    pose, _ = rower()
    xy = pose.xy_px.copy()
    xy[20:24] = np.nan
    face = body_track(replace(pose, xy_px=xy)).face_px
    nose = pose.xy_px[:, LANDMARKS.index("nose")]
    assert np.isfinite(face).all()
    assert (np.linalg.norm(nose - face[:, :2], axis=1) < face[:, 2]).all()


def test_unsteady_undoes_steady():
    pose, _ = rower()
    shaky = pose.camera_px + np.random.default_rng(1).normal(0, 0.01, pose.camera_px.shape)
    moving = replace(pose, camera_px=shaky)
    xy = pose.xy_px[:, 0].astype(float)
    assert unsteady(steady(xy, moving), moving) == pytest.approx(xy)


def scene(seed=0):
    rng = np.random.default_rng(seed)
    import cv2

    noise = rng.integers(0, 255, (45, 80, 3), dtype=np.uint8)
    return cv2.resize(noise, (320, 180), interpolation=cv2.INTER_CUBIC)


def test_camera_motion_follows_a_moved_background():
    import cv2

    big = scene()
    motion = CameraMotion((320, 180))
    shifts = [(0, 0), (2, 1), (5, 3), (3, -2), (0, 0)]
    for dx, dy in shifts:
        way = np.array([[1, 0, dx], [0, 1, dy]], np.float32)
        motion.add(cv2.warpAffine(big, way, (320, 180), borderMode=cv2.BORDER_REFLECT), None)
    found = motion.to_first(np.ones(2))[:, :, 2]
    assert found == pytest.approx(-np.array(shifts, float), abs=0.5)


@pytest.mark.parametrize("tilt", [0.0, 4.0, -3.0])
def test_roll_is_read_off_upright_and_level_lines(tilt):
    import cv2

    picture = np.full((360, 640, 3), 210, np.uint8)
    for x in (60, 200, 430, 580):
        cv2.line(picture, (x, 40), (x, 320), (40, 40, 40), 6)
    for y in (60, 180, 300):
        cv2.line(picture, (40, y), (600, y), (90, 40, 20), 6)
    turn = cv2.getRotationMatrix2D((320, 180), -tilt, 1.2)
    tilted = cv2.warpAffine(picture, turn, (640, 360), borderMode=cv2.BORDER_REFLECT)
    assert picture_roll([tilted]) == pytest.approx(tilt, abs=0.7)


def test_roll_of_a_blank_picture_is_not_told():
    assert picture_roll([np.zeros((90, 160, 3), np.uint8)]) is None


def test_back_outline_finds_the_edge_of_a_drawn_body():
    mask = np.zeros((200, 200), np.float32)
    mask[20:180, 80:140] = 1.0
    outline = back_outline(mask, np.array([110.0, 170.0]), np.array([110.0, 40.0]), forward=1)
    assert outline.shape == (STATIONS, 2)
    assert outline[:, 0] == pytest.approx(np.full(STATIONS, 79.5), abs=0.6)
    facing_left = back_outline(mask, np.array([110.0, 170.0]), np.array([110.0, 40.0]), forward=-1)
    assert facing_left[:, 0] == pytest.approx(np.full(STATIONS, 139.5), abs=0.6)


def test_frames_held_by_a_passer_by_are_not_the_athlete():
    pose, _ = rower()
    xy = pose.xy_px.copy()
    xy[60:85] = xy[60:85] * 1.6 - (300.0, 500.0)
    kept = one_person(replace(pose, xy_px=xy))
    lost = np.isnan(kept.xy_px).any(axis=(1, 2))
    assert np.flatnonzero(lost).tolist() == list(range(60, 85))
    assert not np.isnan(one_person(pose).xy_px).any()


def panned(pose, dx=0.0, dy=300.0):
    """The camera looks away for the second third of the clip, and back; the background tells."""
    n = len(pose.time_s)
    share = np.interp(np.arange(n), [n * 0.33, n * 0.4, n * 0.6, n * 0.67], [0, 1, 1, 0])
    way = np.stack([share * dx, share * dy], axis=1)
    camera = pose.camera_px.copy()
    camera[:, :, 2] -= way
    moved = pose.xy_px + way[:, None].astype(np.float32)
    return replace(pose, xy_px=moved, camera_px=camera, width_px=2000, height_px=1200)


@pytest.mark.parametrize("way", [(0.0, 300.0), (400.0, 0.0)])
def test_a_camera_that_pans_away_and_back_loses_nobody(way):
    pose, _ = rower()
    assert np.isfinite(one_person(panned(pose, *way)).xy_px).all()


def test_a_camera_that_follows_a_boat_loses_nobody():
    pose, _ = rower()
    camera = pose.camera_px.copy()
    camera[:, 0, 2] += 40.0 * np.arange(len(pose.time_s))  # the bank runs past
    assert np.isfinite(one_person(replace(pose, camera_px=camera)).xy_px).all()


def test_a_foot_marked_halfway_up_the_shin_is_unknown_and_the_rest_is_kept():
    pose, _ = rower()
    xy = pose.xy_px.copy()
    rows = slice(40, 52)
    for part in ("ankle", "heel", "foot_index"):
        column = LANDMARKS.index(f"right_{part}")
        xy[rows, column] += 0.5 * (xy[rows, LANDMARKS.index("right_hip")] - xy[rows, column])
    track = body_track(replace(pose, xy_px=xy))
    assert np.isnan(track.angles_deg["shin"][rows]).all()
    assert np.isnan(track.points_px["heel"][rows]).all()
    assert np.isfinite(track.angles_deg["trunk"]).all()
    assert np.isfinite(body_track(pose).angles_deg["shin"]).all()
