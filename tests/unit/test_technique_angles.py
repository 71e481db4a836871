import numpy as np
import pytest

from studio.technique.angles import body_angles, from_vertical, interior
from studio.technique.body import measured_angles, widened

# orthographic projection at a camera yaw: tan(seen) = tan(true) * cos(yaw) from vertical;
# the table was worked out from that formula by hand, apart from this code
E2_TRUNK_30 = {5: 29.9, 10: 29.6, 15: 29.2, 20: 28.5, 30: 26.6}
E2_KNEE_55 = {5: 54.9, 10: 54.6, 15: 54.1, 20: 53.4, 30: 51.3}


@pytest.mark.parametrize(("yaw", "reads"), E2_TRUNK_30.items())
def test_trunk_reads_as_the_projection_table_says(yaw, reads):
    squeeze = np.array([np.cos(np.radians(yaw)), 1.0])
    shoulder = np.array([[np.sin(np.radians(30)), -np.cos(np.radians(30))]]) * squeeze
    joints = dict.fromkeys(("elbow", "wrist", "hip", "knee", "ankle"), np.zeros((1, 2)))
    seen = joints | {"shoulder": 100 * shoulder}
    assert measured_angles(seen, 1, 0.0)["trunk"] == pytest.approx(reads, abs=0.06)
    assert body_angles(widened(seen, yaw), 1)["trunk"] == pytest.approx(30, abs=0.01)


@pytest.mark.parametrize(("yaw", "reads"), E2_KNEE_55.items())
def test_knee_reads_as_the_projection_table_says(yaw, reads):
    # interior 55 degrees with the shin at 92 degrees from the boat line, as the table states
    shin, thigh = np.radians(92), np.radians(92 + 55)
    squeeze = np.array([np.cos(np.radians(yaw)), 1.0])
    knee = np.zeros(2)
    ankle = knee + np.array([np.cos(shin), np.sin(shin)]) * squeeze
    hip = knee + np.array([np.cos(thigh), np.sin(thigh)]) * squeeze
    assert interior(ankle, knee, hip) == pytest.approx(reads, abs=0.3)


@pytest.mark.parametrize("angle", [-40.0, -5.0, 0.0, 12.5, 60.0])
@pytest.mark.parametrize("toward", [1, -1])
def test_from_vertical_has_the_contract_sign(angle, toward):
    rad = np.radians(angle)
    high = np.array([toward * np.sin(rad), -np.cos(rad)])
    assert from_vertical(np.zeros(2), high, toward) == pytest.approx(angle)


def test_interior_is_180_when_straight_and_90_at_a_corner():
    a, b, c = np.array([0.0, 0]), np.array([1.0, 0]), np.array([2.0, 0])
    assert interior(a, b, c) == pytest.approx(180)
    assert interior(a, b, np.array([1.0, 5])) == pytest.approx(90)


def test_interior_agrees_with_the_law_of_cosines():
    a, b, c = np.array([3.0, 1.0]), np.array([-2.0, 4.0]), np.array([1.0, -6.0])
    ab, bc, ca = (np.linalg.norm(p - q) for p, q in ((a, b), (b, c), (c, a)))
    by_law = np.degrees(np.arccos((ab**2 + bc**2 - ca**2) / (2 * ab * bc)))
    assert interior(a, b, c) == pytest.approx(by_law)


def test_unknown_points_give_unknown_angles():
    points = {n: np.full((3, 2), np.nan) for n in
              ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")}  # fmt: skip
    assert all(np.isnan(a).all() for a in body_angles(points, 1).values())


@pytest.mark.parametrize("yaw", [-35.0, -20.0, 20.0, 35.0])
@pytest.mark.parametrize("toward", [1, -1])
def test_a_shoulder_further_out_than_the_hip_leans_no_more_for_it(yaw, toward):
    # metres: x toward the flywheel, y up, z toward the camera of a body of 1.75 m
    hip, shoulder = np.array([0.0, 0.0, 0.0955]) * 1.75, np.array([0.0, 0.0, 0.129]) * 1.75
    trunk = 0.288 * 1.75
    shoulder[:2] = trunk * np.sin(np.radians(25)), trunk * np.cos(np.radians(25))
    c, s = np.cos(np.radians(yaw)), np.sin(np.radians(yaw))

    def seen(p):  # the camera moves toward the flywheel: what lies further out slides back
        return 300.0 * np.array([[toward * (c * p[0] - s * p[2]), -p[1]]])

    points = {n: seen(hip) for n in ("hip", "knee", "ankle", "elbow", "wrist")}
    points["shoulder"] = seen(shoulder)
    assert measured_angles(points, toward, yaw)["trunk"] == pytest.approx(25, abs=0.6)
    if yaw > 0:  # on the other side the two effects nearly cancel
        assert measured_angles(points, toward, 0.0)["trunk"] < 25 - 3
