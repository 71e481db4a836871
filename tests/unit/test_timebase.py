from fractions import Fraction

from studio.timebase import clock_face, s_to_ms, ticks_to_s


def test_ticks_are_exact_at_ntsc_rates():
    # SMPTE ST 12-1: 29.97 is 30000/1001; ten minutes of it are off by 599 ms when read as 30
    frames = 17982
    exact = ticks_to_s(frames * 1001, Fraction(1, 30000))
    assert exact - Fraction(frames, 30) == Fraction(5994, 10000)


def test_milliseconds_round_half_up_also_below_zero():
    assert [s_to_ms(x) for x in (Fraction(1, 2000), Fraction(-1, 2000), 1.0004)] == [1, 0, 1000]


def test_clock_face_floors():
    assert clock_face(59.999) == "0:59"
    assert clock_face(3600) == "1:00:00"
    assert clock_face(61, hours=True) == "0:01:01"
