"""What counts as a change: against the GUM's tables and worked example, and by simulation."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from studio.model.technique import Measure
from studio.season.change import compare, coverage, read

SQUARE = SimpleNamespace(view=SimpleNamespace(square=True))
OFF = SimpleNamespace(view=SimpleNamespace(square=False))


def measure(strokes, *, error=2.5, unit="deg", confidence=0.9, value=None, reason=""):
    known = [s for s in strokes if s is not None]
    value = float(np.median(known)) if value is None and known else value
    return Measure("layback", "layback", value, unit, 1.0, len(known), confidence, error,
                   tuple(strokes), reason)  # fmt: skip


def reading(*strokes, **more):
    return read(measure(strokes, **more), SQUARE)


@pytest.mark.parametrize(
    ("freedom", "factor"), [(1, 13.97), (2, 4.53), (5, 2.65), (10, 2.28), (20, 2.13), (math.inf, 2)]
)
def test_the_coverage_factor_is_that_of_the_gum(freedom, factor):
    """JCGM 100:2008, table G.2, column for 95.45 percent."""
    assert coverage(freedom) == pytest.approx(factor, abs=0.006)


def test_an_error_of_the_camera_is_not_averaged_away_by_more_strokes():
    few, many = reading(20.0, 20.0), reading(*[20.0] * 40)
    assert few.standard == many.standard == 2.5
    assert many.bar == pytest.approx(5.0, abs=0.001)


def test_scatter_of_the_strokes_adds_in_squares():
    """s = 2 over 4 strokes: the median is known to sqrt(pi/2) * 2 / 2, beside an error of 1."""
    strokes = (10 - math.sqrt(3), 10 + math.sqrt(3), 10 - math.sqrt(3), 10 + math.sqrt(3))
    found = reading(*strokes, error=1.0)
    assert found.standard == pytest.approx(math.hypot(1.0, math.sqrt(math.pi / 2)))
    # Welch-Satterthwaite by hand (GUM G.2b): u^4 / (u_scatter^4 / 3)
    assert found.freedom == pytest.approx((1 + math.pi / 2) ** 2 / ((math.pi / 2) ** 2 / 3))


def test_a_difference_is_off_by_the_root_of_both_squares():
    """GUM 5.1.2: steady readings off by 3 and by 4 differ by an amount off by 5; k = 2."""
    change = compare(reading(20.0, 20.0, error=3.0), reading(31.0, 31.0, error=4.0))
    assert change.error == pytest.approx(10.0, abs=0.001)
    assert (change.difference, change.verdict) == (11.0, "up")


@pytest.mark.parametrize(
    ("later", "verdict"),
    [(20.0, "no change"), (26.9, "no change"), (13.2, "no change"), (27.2, "up"), (12.8, "down")],
)
def test_a_difference_within_its_error_is_no_change(later, verdict):
    """Two lots of 2.5 degrees: 2 * 2.5 * sqrt(2) = 7.07."""
    assert compare(reading(20.0, 20.0), reading(later, later)).verdict == verdict


def test_the_same_rowing_is_called_changed_one_time_in_twenty_at_most():
    rng = np.random.default_rng(4)
    called = 0
    for _ in range(2000):
        pair = []
        for _ in range(2):
            true = 20 + rng.normal(0, 2.5)  # alike in all strokes of a clip
            pair.append(reading(*(true + rng.normal(0, 2.0, rng.integers(2, 7)))))
        called += compare(*pair).verdict != "no change"
    assert 0.01 < called / 2000 < 0.055


def test_a_real_change_is_found():
    rng = np.random.default_rng(5)
    found = 0
    for _ in range(200):
        before, after = (t + rng.normal(0, 2.5) + rng.normal(0, 1.0, 5) for t in (34.0, 20.0))
        found += compare(reading(*before), reading(*after)).verdict == "down"
    assert found / 200 > 0.9


@pytest.mark.parametrize(
    ("found", "why"),
    [
        (read(measure((20.0, 21.0)), OFF), "off square"),
        (reading(20.0), "one stroke only"),
        (reading(20.0, None), "one stroke only"),
        (reading(20.0, 21.0, error=None), "error is not known"),
        (reading(20.0, 21.0, confidence=0.3), "too unsure"),
        (reading(None, None, reason="the camera stands too far off"), "camera stands"),
    ],
)
def test_what_cannot_be_compared_says_why(found, why):
    assert found.bar is None
    assert why in found.why_not
    with pytest.raises(ValueError, match="not to be compared"):
        compare(reading(20.0, 20.0), found)


def test_times_are_compared_however_the_camera_stood():
    assert read(measure((1.0, 1.1), error=0.03, unit="s"), OFF).why_not == ""
