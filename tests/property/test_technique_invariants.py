from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from studio.config import Corrections, Settings
from studio.technique.analyse import analyse
from tests.technique_rower import media, mirrored, reversed_in_time, rower, seen_from

quick = settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))


def analysed(pose):
    return analyse(pose, media(), Settings(), Corrections())


def assert_same_angles(a, b, tolerance=0.2):
    for name in a.body.angles_deg:
        assert a.body.angles_deg[name] == pytest.approx(
            b.body.angles_deg[name], abs=tolerance, nan_ok=True
        )


@quick
@given(lean=st.floats(15, 35), layback=st.floats(10, 38), rate=st.floats(16, 38))
def test_mirroring_changes_no_angle_and_turns_the_facing(lean, layback, rate):
    pose, _ = rower(lean=lean, layback=layback, rate_spm=rate)
    # the far side is drawn beside the near one, so mirror a clip without it
    a, b = analysed(pose), analysed(mirrored(pose))
    assert (a.body.facing, b.body.facing) == ("right", "left")
    assert_same_angles(a, b)


@quick
@given(scale=st.floats(0.5, 1.5), dx=st.floats(-60, 60), dy=st.floats(-60, 60))
def test_scaling_and_shifting_change_no_angle(scale, dx, dy):
    pose, _ = rower()
    moved = replace(pose, xy_px=pose.xy_px * np.float32(scale) + np.array([dx, dy], np.float32),
                    width_px=2600, height_px=1500)  # fmt: skip
    roomy = replace(pose, width_px=2600, height_px=1500)
    inside = replace(moved, xy_px=moved.xy_px + np.float32(100))
    there, here = (analysed(seen_from(p, 0, focal_px=2600)) for p in (roomy, inside))
    assert_same_angles(there, here, tolerance=0.3)


@quick
@given(share=st.floats(0.3, 0.6), rate=st.floats(18, 34))
def test_reversing_time_swaps_drive_and_recovery(share, rate):
    pose, _ = rower(drive_share=share, rate_spm=rate)
    there, back = analysed(pose), analysed(reversed_in_time(pose))
    value = lambda t, name: next(m.value for m in t.measures if m.name == name)  # noqa: E731
    assert value(back, "drive_time") == pytest.approx(value(there, "recovery_time"), abs=0.03)
    assert value(back, "recovery_time") == pytest.approx(value(there, "drive_time"), abs=0.03)


@quick
@given(seed=st.integers(0, 1000))
def test_two_pixels_of_noise_move_no_measure_beyond_its_stated_error(seed):
    clean = analysed(rower()[0])
    noisy = analysed(rower(noise_px=2.0, seed=seed)[0])
    for a, b in zip(clean.measures, noisy.measures, strict=True):
        if a.value is None or a.name == "back_curve":
            continue
        assert b.value is not None, a.name
        stated = a.error + (b.spread or 0.0)
        assert abs(a.value - b.value) <= stated, a.name


@pytest.mark.parametrize("angle", [-6.0, 4.0])
def test_a_tilted_camera_that_is_noticed_changes_no_angle(angle):
    pose, _ = rower()
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    turn = np.array([[c, -s], [s, c]], np.float32)
    middle = np.array([640, 360], np.float32)
    tilted = replace(pose, xy_px=(pose.xy_px - middle) @ turn.T + middle, roll_deg=angle)
    assert_same_angles(analysed(pose), analysed(tilted))
