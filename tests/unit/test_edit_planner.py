"""Holds, cards and clocks of the edit plan."""

from fractions import Fraction

import pytest

from studio.config import About, Corrections, HoldFix, HoldSettings
from studio.errors import PlanError
from studio.model.speech import Chapter, Outline, TalkingPoint
from tests.edit_scene import PLAY_THROUGH, cue, make_plan, media, playhead, settings


def holds(plan):
    return [(h.phase, round(h.clip_s, 3), float(h.program_start_s), float(h.duration_s), h.inserted)
            for h in plan.holds]  # fmt: skip


def test_rests_are_covered_and_the_first_play_through_gets_two_holds():
    plan = make_plan(settings=settings(holds=HoldSettings(seconds=0.5)))
    assert [h[0] for h in holds(plan)] == ["catch", "finish", "finish", "catch"]
    inserted = [h for h in plan.holds if h.inserted]
    assert [(h.stroke, float(h.program_start_s), float(h.duration_s)) for h in inserted] == [
        (0, 1.5, 0.5),
        (0, 2.4, 0.5),
    ]
    covered = [h for h in holds(plan) if not h[4]]
    assert covered == [
        ("finish", 1.9, 5.0, 2.0, False),
        ("catch", 1.5, 9.0, 2.0, False),
    ]
    assert plan.duration_s == 10 + 1
    assert sum("inserted" in n for n in plan.notices) == 2


def test_the_tenth_of_the_recording_limits_what_is_inserted():
    plan = make_plan()  # two holds of 2.5 s would be half of the recording
    assert not [h for h in plan.holds if h.inserted]
    assert plan.duration_s == 10


def test_no_hold_falls_into_a_sentence():
    parts = ((3.0, "playing", 0.0, 1.0), (27.0, "paused", 2.2, 0.0))
    talk = (cue(0.2, 2.9, "one long sentence that goes", "on and on."),)
    quiet = make_plan(parts, settings=settings(holds=HoldSettings(seconds=1)))
    spoken = make_plan(parts, cues=talk, settings=settings(holds=HoldSettings(seconds=1)))
    assert len([h for h in quiet.holds if h.inserted]) == 2
    assert not [h for h in spoken.holds if h.inserted]


def test_a_stepped_frame_ends_a_rest():
    parts = ((2.0, "paused", 1.5, 0.0), (2.0, "paused", 1.7, 0.0))
    plan = make_plan(parts)
    assert holds(plan) == [("catch", 1.5, 0.0, 2.0, False)]


def test_a_talking_point_without_a_rest_gets_a_hold():
    parts = ((3.0, "playing", 0.0, 0.5), (47.0, "absent", None, 0.0))  # slow: no play-through
    point = TalkingPoint("change", "catch", "lean", "lean more", 0.2, 2.0)
    outline = Outline((), (point,))
    plan = make_plan(parts, outline=outline, settings=settings(holds=HoldSettings(seconds=1)))
    assert holds(plan) == [("catch", 0.5, 1.0, 1.0, True)]
    off = settings(holds=HoldSettings(seconds=1, insert=False))
    assert make_plan(parts, outline=outline, settings=off).holds == ()


@pytest.mark.parametrize(
    ("fix", "expected"),
    [
        (HoldFix("drop", 4.5, "finish"), [("catch", 1.5, 8.0, 2.0, False)]),
        (
            HoldFix("add", 6.5, "catch", 1.0),
            [
                ("finish", 1.9, 4.0, 2.0, False),
                ("catch", 1.2, 6.5, 1.0, True),
                ("catch", 1.5, 9.0, 2.0, False),
            ],
        ),
        (
            HoldFix("lengthen", 4.5, seconds=3.5),
            [
                ("finish", 1.9, 4.0, 2.0, False),
                ("finish", 1.9, 6.0, 1.5, True),
                ("catch", 1.5, 9.5, 2.0, False),
            ],
        ),
        (
            HoldFix("move", 4.5, to_s=2.5),
            [("finish", 1.5, 2.5, 2.0, True), ("catch", 1.5, 10.0, 2.0, False)],
        ),
    ],
)
def test_the_coach_has_the_last_word_on_holds(fix, expected):
    # PLAY_THROUGH begins with 1 s without the clip; the rests begin at 4 s and 8 s
    plan = make_plan(corrections=Corrections(holds=(fix,)))
    assert holds(plan) == expected


@pytest.mark.parametrize(
    "fix",
    [
        HoldFix("drop", 2.0),
        HoldFix("add", 0.5, "catch"),
        HoldFix("lengthen", 4.5),
        HoldFix("move", 4.5),
        HoldFix("turn", 4.5),
        HoldFix("compare", 4.5),
    ],
)
def test_a_correction_that_means_nothing_is_refused(fix):
    with pytest.raises(PlanError, match=r"corrections\.toml"):
        make_plan(corrections=Corrections(holds=(fix,)))


def test_the_clip_alone_is_played_then_analysed_slowly():
    plan = make_plan(recording=None, playhead=None)
    kinds = [(s.kind, float(s.speed)) for s in plan.shots]
    assert kinds == [("clip", 1), ("clip", 0.25), ("hold", 0), ("clip", 0.25), ("hold", 0),
                     ("clip", 0.25)]  # fmt: skip
    assert [h.phase for h in plan.holds] == ["catch", "finish"]
    # 3 s once; lead 0.3 s, drive 0.4 s and recovery 0.6 s at a quarter; two holds of 2.5 s
    assert plan.duration_s == Fraction(3) + 4 * Fraction(13, 10) + 5
    assert (plan.width_px, plan.height_px) == (160, 96)


def test_the_recording_alone_is_left_as_it_is():
    plan = make_plan(clip=None, playhead=None, technique=None)
    assert [(s.kind, s.duration_s) for s in plan.shots] == [("recording", 10)]
    assert plan.overlays == ()


def test_nothing_at_all_is_refused():
    with pytest.raises(PlanError, match="no picture"):
        make_plan(recording=None, clip=None, playhead=None, technique=None)


def test_a_recording_that_opens_on_the_clip_gets_a_short_title_card():
    parts = ((2.0, "paused", 1.0, 0.0), (2.0, "absent", None, 0.0))
    named = settings(episode=About(title="Early hands", series="Stroke Surgery"))
    plan = make_plan(parts, settings=named)
    assert (plan.shots[0].kind, plan.shots[0].card) == ("card", "title")
    assert plan.duration_s == 4 + Fraction(5, 2)
    assert plan.program_time(1.0) == 3.5
    card = next(o for o in plan.overlays if o.kind == "title_card")
    assert card.params["title"] == "Early hands"
    assert make_plan(settings=named).shots[0].kind == "recording"  # it has its own opening


def test_chapters_and_captions_move_with_the_holds():
    parts = ((4.0, "paused", 1.2, 0.0), (4.0, "paused", 0.9, 0.0))
    chapters = tuple(
        Chapter(a, b, f"at {a}", None, None) for a, b in ((0.0, 2.0), (2.0, 5.0), (5.0, 8.0))
    )
    fix = Corrections(holds=(HoldFix("add", 3.0, "finish", 1.5),))
    plan = make_plan(parts, outline=Outline(chapters, ()), corrections=fix,
                     cues=(cue(0.5, 2.5), cue(3.5, 4.5), cue(5.0, 6.0)))  # fmt: skip
    assert [(c.start_s, c.end_s) for c in plan.chapters] == [(0, 2), (2, 6.5), (6.5, 9.5)]
    assert [(c.start_ms, c.end_ms) for c in plan.cues] == [(500, 2500), (5000, 6000), (6500, 7500)]


def test_rates_stay_exact_and_variable_ones_become_constant():
    ntsc = Fraction(30000, 1001)
    plan = make_plan(recording=media(seconds=10, rate=ntsc))
    assert plan.frame_rate == ntsc
    assert all((s.duration_s * ntsc).denominator == 1 for s in plan.shots)
    loose = media(seconds=10, rate=Fraction(166, 10), variable=True)
    assert make_plan(recording=loose).frame_rate == 30
    fast = media(seconds=10, rate=Fraction(120))
    assert make_plan(recording=fast).frame_rate == 60


def test_unknown_consent_makes_a_draft_with_the_face_blurred():
    for consent, draft, blur in (
        ("yes", False, False),
        ("no", False, True),
        ("unknown", True, True),
    ):
        plan = make_plan(settings=settings(consent))
        assert (plan.draft, plan.blur_athlete) == (draft, blur)
        assert any(o.kind == "draft_mark" for o in plan.overlays) == draft


def test_angles_follow_what_is_said():
    parts = ((1.0, "absent", None, 0.0), (12.0, "paused", 1.5, 0.0))
    point = TalkingPoint("change", "catch", "arm bend", "arms bend", 5.0, 8.0)
    plan = make_plan(parts, outline=Outline((), (point,)))
    fans = [(o.params["angle"], o.start_s, o.end_s) for o in plan.overlays if o.kind == "angle_fan"]
    assert ("elbow", 5.0, 8.0) in fans
    usual = [f for f in fans if f[0] == "trunk"]
    assert usual == [("trunk", 1.0, 5.0), ("trunk", 8.0, 13.0)]
    assert playhead(PLAY_THROUGH).spans[0].state == "absent"


def test_a_label_takes_no_side_where_the_clip_contradicts_the_words():
    parts = ((8.0, "paused", 1.2, 0.0),)
    point = TalkingPoint("change", "catch", "shins", "short shins", 1.0, 6.0, "shin", False)
    plan = make_plan(parts, outline=Outline((), (point,)))
    label = next(o for o in plan.overlays if o.kind == "callout")
    assert (label.params["text"], label.accent) == ("Shins at the catch", "neutral")
    sure = TalkingPoint("change", "catch", "shins", "short shins", 1.0, 6.0, "shin", True)
    plan = make_plan(parts, outline=Outline((), (sure,)))
    label = next(o for o in plan.overlays if o.kind == "callout")
    assert (label.params["text"], label.accent) == ("Change: shins at the catch", "change")
