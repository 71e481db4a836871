"""Parts of speech of a review, chapters and talking points, on an invented talk and odd cases."""

import itertools
import math

import pytest
from hypothesis import given, settings as hypothesis_settings, strategies as st

from studio.config import ChapterFix, Corrections, PointVerdict, Settings
from studio.model.speech import Sentence, Transcript
from studio.speech import lexicon
from studio.speech.acts import count
from studio.speech.chapters import TITLE_CHARS
from studio.speech.outline import outline
from studio.speech.points import clean

TALK = """
Hello and welcome back to Stroke Surgery here at the Quillwater Rowing Club.
Today we have got Juniper, and she sent us ten seconds on the machine.
She filmed it from the side and the camera does not move.
We start with the good things.
The catch is lovely, the handle and the seat move at the same moment.
I would not change that at all.
Her hands go away quickly on the recovery, and the knees wait for them.
If you like this sort of thing, press the like button and subscribe.
Okay, so what would I change?
Let us look at the finish.
She leans back much too far here, far past the vertical.
Think of somebody holding a hand behind your shoulders, and stop there.
The drill for that is ten strokes with your feet out of the straps, before every session.
Next one, watch the start of the drive.
The arms bend too early, the legs are not even half way down.
Let your arms hang like ropes until the legs are flat.
If any of you watching have sore wrists, check your own grip as well.
So, to sum up.
Keep that catch and those quick hands, sit taller at the finish, and keep the arms long.
Thank you Juniper, send me another clip next month, bye bye.
""".strip().split("\n")


def transcript(lines, each_s=5.5, gap_s=0.8):
    made, at = [], 0.6
    for line in lines:
        made.append(Sentence(line, at, at + each_s))
        at += each_s + gap_s
    return Transcript("en", (), tuple(made), "invented")


def made(lines, corrections=None, technique=None):
    return outline(
        transcript(lines), playhead=None, technique=technique, settings=Settings(),
        corrections=corrections or Corrections(),
    )  # fmt: skip


def start_of(number):
    return round(transcript(TALK).sentences[number].start_s, 2)


@pytest.fixture(scope="module")
def juniper():
    return made(TALK)


def test_outline_points_of_an_invented_talk(juniper):
    found = [(p.kind, p.phase, p.topic) for p in juniper.points]
    assert found == [
        ("keep", "catch", "connection"),
        ("keep", "recovery", "hands away"),
        ("change", "finish", "layback"),
        ("coaching_cue", "finish", "layback"),
        ("drill", "finish", "layback"),
        ("change", "drive", "arm bend"),
        ("coaching_cue", "drive", "arm bend"),
    ]


def test_outline_chapters_of_an_invented_talk(juniper):
    shape = [(round(c.start_s, 2), c.kind, c.phase) for c in juniper.chapters]
    assert shape[0] == (0.0, "intro", None)
    assert (start_of(8), "change", "finish") in shape
    assert (start_of(13), "change", "drive") in shape
    assert shape[-1] == (start_of(17), "recap", None)


def test_outline_leaves_advice_and_housekeeping_out(juniper):
    said = " ".join(p.text for p in juniper.points)
    assert "subscribe" not in said
    assert "sore wrists" not in said
    assert "sum up" not in said


def check_chapters(chapters, end_s):
    assert chapters[0].start_s == 0
    assert chapters[-1].end_s == pytest.approx(end_s, abs=0.01)
    for one, after in itertools.pairwise(chapters):
        assert one.end_s == after.start_s
        assert math.floor(one.end_s) - math.floor(one.start_s) >= 10
    for one in chapters:
        assert 0 < len(one.title) <= TITLE_CHARS
    assert len({c.title for c in chapters}) == len(chapters)
    assert len(chapters) <= max(3, end_s // 20)


def test_outline_chapters_hold_the_rules(juniper):
    check_chapters(juniper.chapters, transcript(TALK).sentences[-1].end_s)


@hypothesis_settings(max_examples=20, deadline=None)
@given(st.lists(st.sampled_from(TALK), min_size=1, max_size=30), st.floats(0.5, 12.0))
def test_outline_chapters_hold_the_rules_whatever_is_said(lines, each_s):
    said = transcript(lines, each_s)
    found = outline(
        said, playhead=None, technique=None, settings=Settings(), corrections=Corrections()
    )
    check_chapters(found.chapters, said.sentences[-1].end_s)
    for point in found.points:
        assert point.start_s < point.end_s
        assert point.topic in lexicon.topics()


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("I wouldn't change the catch.", "praise"),
        ("The heels come up a touch, but that's not bad at all.", "praise"),
        ("The body isn't late and the arms aren't early.", "praise"),
        ("No change to the layback.", "praise"),
        ("The layback isn't good.", "fault"),
        ("The wrists have no reason to bend.", "fault"),
        ("Do you lunge? No, the body is set.", "praise"),
        ("Is that enough reach? Yes, it is.", "praise"),
    ],
)
def test_outline_negation(said, kind):
    hits = count(lexicon.plain(said), said)
    praise, fault = hits["praise"] + hits["keep_it"], hits["fault"] + hits["fix"]
    assert (praise > fault) == (kind == "praise"), hits


@pytest.mark.parametrize(
    ("said", "order"),
    [
        ("Let the seat roll up the slide.", True),
        ("Let me stop it here.", False),
        ("Drive length is fine.", False),
        ("Drive with the legs.", True),
        ("Watch the handle.", False),
        ("Put those together and you lose length.", False),
        ("Do you see that?", False),
    ],
)
def test_outline_orders_are_told_from_the_rest(said, order):
    assert (count(lexicon.plain(said), said)["imperative"] > 0) == order


@pytest.mark.parametrize(
    "said",
    [
        "For anyone watching with stiff ankles, raise your heels a little.",
        "In general, most people rush the slide.",
        "If any of you have sore wrists, check your own grip.",
        "Please subscribe, and leave a comment below.",
        "If your back hurts, stop and see your doctor or your physio.",
    ],
)
def test_outline_what_is_said_to_others_is_no_point_about_the_athlete(said):
    without = made(TALK)
    found = made([*TALK[:13], said, *TALK[13:]])
    shape = [(p.kind, p.topic) for p in found.points]
    assert shape == [(p.kind, p.topic) for p in without.points]


def test_outline_hypothetical_opens_no_topic_of_its_own():
    said = "Were she rowing at thirty strokes a minute, I would let it go."
    found = made([*TALK[:11], said, *TALK[11:]])
    assert "rate" not in {p.topic for p in found.points}


def test_outline_fault_of_an_earlier_clip_is_no_change():
    lines = [*TALK[:4], "Last month the arms were bending early, and today that fault is gone.",
             *TALK[8:]]  # fmt: skip
    arms = [p for p in made(lines).points if p.start_s < start_of(5)]
    assert [(p.kind, p.topic) for p in arms] == [("keep", "arm bend")]


@pytest.mark.parametrize(
    ("said", "cleaned"),
    [
        ("So, um, the arms, the arms bend early.", "The arms bend early."),
        ("Okay, now you know, sit tall.", "Sit tall."),
        ("It is very very long.", "It is very very long."),
    ],
)
def test_outline_cleans_fillers_and_false_starts(said, cleaned):
    assert clean(said) == cleaned


def test_outline_corrections_stand(juniper):
    drill = next(p for p in juniper.points if p.kind == "drill")
    second = juniper.chapters[1].start_s
    fixed = made(
        TALK,
        Corrections(
            points=(PointVerdict("drill", drill.start_s, "reject"),
                    PointVerdict("keep", 999.0, "reject")),
            chapters=(ChapterFix("rename", 0.0, "Juniper on the bench"),
                      ChapterFix("move", second, to_s=second + 1.5),
                      ChapterFix("remove", juniper.chapters[2].start_s),
                      ChapterFix("remove", 999.0)),
        ),
    )  # fmt: skip
    assert [p for p in juniper.points if p != drill] == list(fixed.points)
    assert fixed.chapters[0].title == "Juniper on the bench"
    assert fixed.chapters[0].end_s == fixed.chapters[1].start_s == pytest.approx(second + 1.5)
    assert len(fixed.chapters) == len(juniper.chapters) - 1
    assert sum("999.0" in n for n in fixed.notices) == 2


def test_outline_added_chapter(juniper):
    at = juniper.chapters[0].start_s + 11.0
    fixed = made(TALK, Corrections(chapters=(ChapterFix("add", at, "The clip"),)))
    assert (fixed.chapters[1].start_s, fixed.chapters[1].title) == (at, "The clip")


def test_outline_of_nothing_says_so():
    found = made([])
    assert (found.chapters, found.points) == ((), ())
    assert found.notices


def test_outline_what_is_announced_is_the_drill():
    found = made(
        [
            "On the recovery you lunge at the catch right at the end.",
            "And a drill for that.",
            "Pause for one second with the hands past the knees, then come up the slide.",
        ]
    )
    drills = [p.text for p in found.points if p.kind == "drill"]
    assert len(drills) == 1
    assert "Pause for one second" in drills[0]
