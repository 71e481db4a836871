from fractions import Fraction

from studio.timebase import clock_face, s_to_ms


def test_milliseconds_round_half_up_also_below_zero():
    assert [s_to_ms(x) for x in (Fraction(1, 2000), Fraction(-1, 2000), 1.0004)] == [1, 0, 1000]


def test_clock_face_floors():
    assert clock_face(59.999) == "0:59"
    assert clock_face(3600) == "1:00:00"
    assert clock_face(61, hours=True) == "0:01:01"
