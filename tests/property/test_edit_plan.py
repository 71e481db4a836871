"""What holds for every plan."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import given, settings as run, strategies as st

from studio.edit.cues import program_cues
from studio.edit.grid import Grid
from studio.edit.holds import Stop, tidy
from studio.edit.moments import Moment
from studio.edit.shots import Clock, Cutter, cut_recording
from studio.model.speech import Cue

RATES = st.sampled_from([Fraction(25), Fraction(30000, 1001), Fraction(30), Fraction(60)])
TIMES = st.floats(0, 60, allow_nan=False)
STOPS = st.lists(
    st.tuples(TIMES, st.sampled_from([0.0, 1.0, 3.7]), st.sampled_from([0.0, 2.5])), max_size=8
)


def cut(rate, stops):
    made = [Stop(Moment("catch", 0, 1.0), 1.0, a, c, i, "a test") for a, c, i in stops]
    cutter = Cutter(Grid(rate), [])
    end = cutter.grid.snap(60)
    holds = cut_recording(cutter, end, tidy(made), sound=True)
    return cutter, holds, end


@run(max_examples=60, deadline=None)
@given(RATES, STOPS)
def test_shots_are_contiguous_whole_frames_and_lose_nothing(rate, stops):
    cutter, holds, end = cut(rate, stops)
    now, played = Fraction(0), Fraction(0)
    for shot in cutter.shots:
        assert shot.program_start_s == now
        assert shot.duration_s > 0
        assert (shot.duration_s * rate).denominator == 1
        if shot.speed:
            assert shot.source_start_s == played
            played += shot.duration_s
        now += shot.duration_s
    assert played == end
    asked = sum((cutter.grid.snap(i) for a, c, i in stops if c == 0), Fraction(0))
    added = sum((h.duration_s for h in holds if h.inserted), Fraction(0))
    assert added >= asked  # no still time is lost to a cover that it falls into
    assert now == end + sum((h.duration_s for h in holds if h.inserted), Fraction(0))


@run(max_examples=60, deadline=None)
@given(RATES, STOPS, st.lists(TIMES, min_size=2, max_size=12))
def test_the_clock_never_runs_backwards_and_after_is_never_before(rate, stops, times):
    cutter, _, _ = cut(rate, stops)
    clock = Clock(cutter.shots)
    ordered = [Fraction(t) for t in sorted(times)]
    after = [clock.after(t) for t in ordered]
    assert after == sorted(after)
    assert all(clock.before(t) <= clock.after(t) for t in ordered)


@run(max_examples=60, deadline=None)
@given(STOPS, st.lists(st.integers(0, 59_000), min_size=1, max_size=20, unique=True))
def test_captions_stay_in_order_whole_and_inside(stops, starts):
    cutter, holds, _ = cut(Fraction(30), stops)
    starts = sorted(starts)
    ends = [*starts[1:], 60_000]
    words = "one two three four five six"
    cues = [
        Cue(a, max(a + 1, min(b, a + 6000)), (words,)) for a, b in zip(starts, ends, strict=True)
    ]
    got = program_cues(cues, Clock(cutter.shots), holds)
    for before, following in pairwise(got):
        assert before.end_ms <= following.start_ms
    assert all(c.start_ms < c.end_ms <= cutter.now_s * 1000 + 1 for c in got)
    said = " ".join(line for c in got for line in c.lines)
    assert said == " ".join([words] * (len(said.split()) // 6))  # no word lost within a caption
