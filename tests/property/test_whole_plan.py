"""What holds for every whole plan, whatever was said, shown and corrected."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import given, settings as run, strategies as st

from studio.config import CaptionFix, ChapterFix, Corrections, HoldFix
from studio.edit.validate import validate
from studio.errors import PlanError
from studio.model.speech import Chapter, Cue, Outline, TalkingPoint
from tests.edit_scene import CLIP_PX, make_plan, media

STATES = st.sampled_from(
    [("playing", 0.0, 1.0), ("playing", 1.0, 0.5), ("paused", 1.9, 0.0), ("paused", 1.5, 0.0),
     ("paused", 1.2, 0.0), ("absent", None, 0.0)]
)  # fmt: skip
PARTS = st.lists(st.tuples(st.sampled_from([0.5, 1.0, 2.5]), STATES), min_size=1, max_size=7)
TIMES = st.floats(0, 20, allow_nan=False).map(lambda t: round(t, 3))
LENGTHS = st.sampled_from([None, 0.5, 2.0, 9.0])
HOLDS = st.builds(
    HoldFix,
    st.sampled_from(["move", "lengthen", "drop", "add", "compare"]),
    TIMES,
    st.sampled_from(["", "catch", "finish"]),
    LENGTHS,
    st.one_of(st.none(), TIMES),
)
POINTS = st.builds(
    lambda kind, phase, at, long: TalkingPoint(kind, phase, "layback", "Sit up.", at, at + long),
    st.sampled_from(["keep", "change"]),
    st.sampled_from(["catch", "finish", "drive", None]),
    TIMES,
    st.sampled_from([0.5, 3.0]),
)
FIXES = st.builds(
    Corrections,
    holds=st.lists(HOLDS, max_size=1).map(tuple),
    chapters=st.lists(
        st.builds(ChapterFix, st.sampled_from(["move", "add", "remove", "rename"]), TIMES,
                  st.just("X"), st.one_of(st.none(), TIMES)), max_size=3).map(tuple),
    captions=st.lists(
        st.builds(CaptionFix, TIMES, st.just("Legs."), st.one_of(st.none(), TIMES)),
        max_size=2).map(tuple),
)  # fmt: skip


def scene(parts):
    """Parts for `make_plan`, and the length of the recording."""
    rows = [(seconds, *state) for seconds, state in parts]
    return rows, sum(seconds for seconds, _ in parts)


@run(max_examples=50, deadline=None)
@given(PARTS, st.lists(TIMES, max_size=6, unique=True), st.lists(POINTS, max_size=3), FIXES)
def test_every_plan_holds_together(parts, starts, points, corrections):
    rows, length_s = scene(parts)
    starts = sorted(t for t in starts if t < length_s)
    ends = [*starts[1:], length_s] if starts else []
    cues = tuple(
        Cue(round(a * 1000), round(min(b, a + 4) * 1000), ("Legs, then body.",))
        for a, b in zip(starts, ends, strict=True)
        if round(min(b, a + 4) * 1000) > round(a * 1000)
    )
    chapters = (Chapter(0.0, length_s, "All of it", None, None),)
    spoken = tuple(p for p in points if p.end_s <= length_s)
    try:
        made = make_plan(
            rows, cues=cues, outline=Outline(chapters, spoken, ()), corrections=corrections
        )
    except PlanError as error:
        if not str(error).startswith("corrections.toml"):
            raise
        return  # a correction of a hold that is none, refused in plain words
    recording = media(seconds=length_s)
    validate(made, recording=recording, clip=media("clip.mp4", 3, size=CLIP_PX, sound=False))

    inserted = sum((h.duration_s for h in made.holds if h.inserted), Fraction(0))
    cards = sum((s.duration_s for s in made.shots if s.kind == "card"), Fraction(0))
    grid = 1 / made.frame_rate
    assert abs(made.duration_s - Fraction(length_s) - inserted - cards) <= grid

    for before, after in pairwise(made.chapters):
        assert before.end_s == after.start_s
    assert made.chapters[0].start_s == 0
    assert abs(made.chapters[-1].end_s - float(made.duration_s)) < 0.01
    assert all(0 <= c.start_ms < c.end_ms for c in made.cues)
    assert all(before.end_ms <= after.start_ms for before, after in pairwise(made.cues))
