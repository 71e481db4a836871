from dataclasses import replace

import numpy as np
import pytest

from studio.technique.view import camera_view
from tests.technique_rower import mirrored, rower, seen_from


@pytest.mark.parametrize("yaw", [-30.0, -10.0, 0.0, 10.0, 25.0])
def test_yaw_is_told_wherever_in_the_picture_the_athlete_sits(yaw):
    pose, _ = rower()
    for shift in (-300, 0, 250):
        moved = replace(pose, xy_px=pose.xy_px + np.array([shift, 0], np.float32))
        view = camera_view(seen_from(moved, yaw), 1)
        assert view.yaw_deg == pytest.approx(yaw, abs=1.0)
        assert view.square == (abs(yaw) <= 20)


@pytest.mark.parametrize("focal_share", [0.75, 1.5])
def test_another_lens_costs_less_than_the_stated_error(focal_share):
    pose, _ = rower()
    shifted = replace(pose, xy_px=pose.xy_px - np.array([320, 0], np.float32))
    seen = seen_from(shifted, 10, focal_px=focal_share * pose.width_px)
    assert camera_view(seen, 1).yaw_deg == pytest.approx(10, abs=8)


def test_yaw_in_a_mirror_is_the_same():
    pose, _ = rower()
    seen = seen_from(pose, 15)
    assert camera_view(mirrored(seen), -1).yaw_deg == camera_view(seen, 1).yaw_deg


def test_no_landmarks_no_yaw():
    pose, _ = rower()
    view = camera_view(replace(pose, world_m=np.full_like(pose.world_m, np.nan)), 1)
    assert view.yaw_deg is None
    assert not view.square
    assert view.warnings
