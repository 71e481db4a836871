"""The summary: limits, sources, person, privacy, hostile text."""

import re
from dataclasses import replace

import pytest

from studio.config import About, Athlete, Corrections, Settings, SummaryFix
from studio.deliver import numbers, spoken
from studio.deliver.chapters import enforce, to_text
from studio.deliver.prose import escaped
from studio.deliver.summary import write_summary
from studio.model.speech import Chapter, Outline, Sentence, TalkingPoint, Transcript
from studio.model.technique import Measure, Technique, View

TALK = [
    ("intro", None, None, "Hello everybody, welcome to Stroke Surgery."),
    ("intro", None, None, "So today we've got Heron, who has rowed for three months."),
    ("intro", None, None, "Press the like button and subscribe."),
    ("keep", "catch", "shins", "So, um, the shins come to vertical, and I'd leave them alone."),
    ("change", "drive", "arm bend", "Let me stop it there."),
    ("change", "drive", "arm bend", "It, it starts too early, you know, before the legs are down."),
    ("coaching_cue", "drive", "arm bend", "What I want you to think is, long ropes."),
    (
        "drill",
        "drive",
        "arm bend",
        "If you want a drill for it, do ten strokes, legs only.",
    ),
    ("change", "recovery", "rate", "The rate creeps up, Heron, from twenty to twenty-four."),
    ("recap", None, None, "If I had to pick one, I'd pick the arms."),
]


def talk(rows=TALK):
    sentences, points = [], []
    for i, (kind, phase, topic, text) in enumerate(rows):
        start, end = 10.0 * i, 10.0 * i + 8
        sentences.append(Sentence(text, start, end))
        if topic and points and (kind, topic) == (points[-1].kind, points[-1].topic):
            points[-1] = replace(points[-1], text=f"{points[-1].text} {text}", end_s=end)
        elif topic:
            points.append(TalkingPoint(kind, phase, topic, text, start, end))
    chapters = enforce([Chapter(0, 30, "Welcome", None, "intro"),
                        Chapter(30, 90, "Catch & <drive>", None, "change")], 100.0)  # fmt: skip
    return (
        Outline(chapters, tuple(points)),
        Transcript("en", (), tuple(sentences), "test"),
        chapters,
    )


def settings(**athlete):
    return Settings(episode=About(series="Stroke Surgery"), athlete=Athlete(**athlete))


def measure(name, value, unit, spread=0.4, strokes=6, error=0.5, confidence=0.9):
    return Measure(name, name, value, unit, spread, strokes, confidence, error)


def technique(*measures):
    body = None
    return Technique(1.0, View(0.0, 0.0, True), body, (), measures)  # type: ignore[arg-type]


def write(rows=TALK, clip=None, corrections=None, **athlete):
    outline, transcript, chapters = talk(rows)
    given = settings(**({"alias": "Heron"} | athlete))
    return write_summary(outline, transcript, clip, chapters, given, corrections or Corrections())


CLIP = technique(
    measure("rate", 22.1, "spm"),
    measure("layback", 34.2, "deg", spread=1.2, error=2.5),
    measure("shin", 1.0, "deg", error=2.5),
    measure("hand_drop_cm", 0.4, "cm", error=1.0),
    Measure("lean", "lean", None, "deg", None, 0, 0.0, 2.5),
)


@pytest.mark.parametrize("clip", [None, CLIP])
def test_every_sentence_has_a_source(clip):
    made = write(clip=clip, consent="yes", under_18=True)
    for where in ("description", "markdown", "post"):
        left = getattr(made, where)
        rows = [r for r in made.sources if r["where"] == where]
        for row in sorted(rows, key=lambda r: -len(str(r["text"]))):
            text = str(row["text"])
            bare = re.sub(r"^(.*?:) “", r"**\1** “", text) if where == "markdown" else text
            assert text in left or bare in left or any(text in str(r["text"]) for r in rows)
            left = left.replace(bare, "").replace(text, "")
        assert not re.search(r"\w", left), left


def test_sources_lie_in_the_talk_or_the_measures():
    made = write(clip=CLIP)
    for row in made.sources:
        assert row["kind"] in ("talk", "measure", "fixed")
        assert (row["span_s"] is not None) == (row["kind"] == "talk")
        assert (row["measure"] is not None) == (row["kind"] == "measure")
        if row["kind"] == "talk":
            start, end = row["span_s"]
            assert 0 <= start < end <= 98
    assert {r["measure"] for r in made.sources if r["kind"] == "measure"} == {
        "rate", "layback", "shin",
    }  # fmt: skip


def test_all_that_was_said_of_the_athlete_is_there_and_nothing_else():
    text = write().description
    assert "The shins come to vertical, and I'd leave them alone." in text
    assert "it starts too early, before the legs are down." in text
    assert "“Long ropes.”" in text
    assert "“Do ten strokes, legs only.”" in text
    assert "If I had to pick one, I'd pick the arms." in text
    assert "who has rowed for three months" in text
    assert not re.search(r"\bum\b|you know|subscribe|Let me stop", text)
    assert to_text(talk()[2]).splitlines()[1] in text


def test_the_cue_stands_with_the_change_that_it_answers():
    paragraphs = write().description.split("\n\n")
    (arms,) = (p for p in paragraphs if "starts too early" in p)
    assert "Long ropes" in arms
    assert "legs only" in arms
    assert "rate" not in arms


def test_the_first_of_an_order_of_priority_is_told():
    rows = [*TALK[:-1], ("recap", None, None, "Summary, in order of priority."),
            ("recap", None, None, "One, keep the arms long.")]  # fmt: skip
    assert "eep the arms long." in write(rows).description


def test_a_sentence_of_praise_and_fault_gives_each_its_half():
    both = "The rhythm is patient, but the rate creeps up at the end."
    rows = [("keep", "recovery", "ratio", both), ("change", None, "rate", both)]
    text = write(rows).description
    assert "The rhythm is patient." in text
    assert "The rate creeps up at the end." in text
    assert "but" not in text.split("Chapters")[0].replace("nothing but", "")


def test_what_is_praised_and_faulted_is_not_left_alone_in_the_opening():
    rows = [("keep", "catch", "shins", "The shins are vertical, that's good."),
            ("keep", "drive", "order", "The order of the drive is right, well done."),
            ("change", "recovery", "order", "On the way back the order is muddled."),
            ("coaching_cue", "recovery", "order", "Hands, body, legs.")]  # fmt: skip
    opening = write(rows=rows).description.splitlines()[0].lower()
    assert opening.count("sequence") + opening.count("order") == 1
    assert "shin" in opening or "compression" in opening


def test_limits_hold_for_a_long_talk():
    rows = [r for r in TALK for _ in range(30)]
    rows = [(k, p, t, f"{s[:-1]} for the {i} time in all these years.")
            for i, (k, p, t, s) in enumerate(rows)]  # fmt: skip
    made = write(rows, alias="H" * 500)
    assert len(made.description) <= 5000
    assert len(made.description.split("\n\n")[0]) <= 150
    assert len(made.post) <= 280
    assert "diagnos" in made.description
    kept = [r for r in made.sources if r["where"] == "description"]
    assert all(str(r["text"]) in made.description for r in kept)


def test_the_same_talk_gives_the_same_texts_and_another_talk_other_wording():
    assert write() == write()
    others = {
        re.sub(r"[^a-z]", "", write([*TALK, ("outro", None, None, f"Bye {i}.")]).post)
        for i in range(12)
    }
    assert len(others) > 2


def test_the_alias_is_escaped_and_never_marks_up():
    alias = "*Ha<b>x</b>[l](http://x.y)_\n# z"
    made = write(alias=alias)
    assert "<" not in made.description + made.post
    assert "\n# z" not in made.markdown
    assert not re.search(r"(?<!\\)<b>|(?<!\\)\[l\]", made.markdown)


def test_escaping_covers_what_commonmark_gives_a_meaning():
    # CommonMark 0.31.2: 2.4 backslash escapes; 4.2 headings; 5.2 list items; 6.6 raw HTML
    for text in (
        "# a",
        "- a",
        "+ a",
        "1. a",
        "*a*",
        "_a_",
        "`a`",
        "<a>",
        "[a](b)",
        "a | b",
        "&lt;",
    ):
        assert re.sub(r"\\([^\w]|_)", r"\1", escaped(text)) == text
        assert escaped(text) != text


def test_without_an_alias_the_name_that_is_said_is_not_written():
    made = write(alias="")
    assert "Heron" not in made.description + made.markdown + made.post
    assert "our athlete" in made.description.lower()
    assert "who has rowed for three months" in made.description
    assert not any("Heron" in str(r["text"]) for r in made.sources)


def test_consent_and_age_are_told_as_given():
    assert re.search(r"consent|agreed", write(consent="yes").description)
    assert not re.search(r"consent|agreed", write(consent="no").description)
    assert not re.search(r"under 18|welfare", write().description)
    young = write(under_18=True).description
    assert "parent" in young
    assert "welfare" in young


def test_the_caution_defers_and_never_diagnoses():
    text = write().description
    for word in ("doctor", "physiotherapist", "licensed coach"):
        assert word in text


def test_the_reader_is_told_when_the_coach_talks_to_the_athlete():
    rows = [
        ("keep", "catch", "shins", "Your shins are fine, and you know it, so you keep them."),
        ("change", "finish", "layback", "You are leaning back further than you need."),
    ]
    told = ("talking to Heron", "Heron, this is for you", "Heron, the rest is for you")
    assert any(t in write(rows).description for t in told)
    assert not any(t in write().description for t in told)


def test_numbers_are_told_with_spread_and_without_what_is_not_known():
    text = write(clip=CLIP).description
    assert "22 strokes a minute" in text
    assert "over 6 strokes" in text
    assert "34° behind upright (± 1°)" in text
    assert "2.5°" in text
    assert "hands drop" not in text  # smaller than its own error
    assert "one camera" in text
    assert "one camera" not in write().description


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("shin", -8.0, "The shins stop 8° short of vertical."),
        ("shin", 8.0, "The shins go 8° past vertical."),
        ("shin", 1.0, "The shins come to vertical, as near as one camera can tell."),
        ("lean", 27.4, "At the catch the body leans 27° forward of upright."),
    ],
)
def test_signs_are_told_in_words(name, value, told):
    one = measure(name, value, "deg", spread=None, error=2.5)
    assert numbers.told(one, 6) == told


def test_the_coachs_own_text_stands():
    own = Corrections(summary=SummaryFix(post="My own <post>."))
    made = write(corrections=own)
    assert made.post == "My own <post>."
    assert made.description == write().description
    assert [r["text"] for r in made.sources if r["where"] == "post"] == ["My own <post>."]


def test_a_talk_without_points_still_gives_texts():
    made = write([("intro", None, None, "Hello there, everybody at home.")])
    assert made.description.startswith("A look at Heron's rowing.")
    assert len(made.post) > 10


@pytest.mark.parametrize(
    ("said", "clean"),
    [
        ("So, um, she sits up, you know, tall.", "She sits up, tall."),
        ("It's, uh, it's not far.", "It's not far."),
        ("And the the knees rise.", "The knees rise."),
        ("i think i'm sort of late", "I think I'm late."),
        ("This sort of thing is a kind of habit.", "This sort of thing is a kind of habit."),
        ("Second thing, same place, the elbows are out.", "The elbows are out."),
        ("It is really, really good.", "It is really, really good."),
    ],
)
def test_speech_is_cleaned_and_no_more(said, clean):
    assert spoken.clean(said).replace("She's, tall", "She's tall") == clean.replace(
        "She's, tall", "She's tall"
    )


@pytest.mark.parametrize(
    ("said", "order"),
    [
        ("What I want you to think is, long ropes.", "Long ropes."),
        ("So think about pulling to the ribs.", "Pulling to the ribs."),
        ("For a drill, try ten strokes feet out.", "Ten strokes feet out."),
        ("I'd like him to stop sooner.", "Stop sooner."),
        ("Here's a drill for that.", ""),
        ("Drive the legs down and think of nothing else.",) * 2,
    ],
)
def test_a_cue_loses_its_announcement(said, order):
    assert spoken.imperative(said) == order


def test_what_only_steers_the_screen_is_left_out():
    said = "So what do I like here? Let me pause that. The catch is quick and clean. Is it long?"
    assert spoken.statements(said) == ["The catch is quick and clean."]


def test_what_is_said_in_one_breath_with_steering_stays():
    said = "Let me play on a little, and here, a third of the way in, the arms start to bend."
    assert spoken.statements(said) == ["A third of the way in, the arms start to bend."]
    assert spoken.statements("Let me go back a bit, because I think I can see why.") == []


def test_names_without_capitals_get_theirs():
    assert spoken.clean("this is heron again", ("Heron",)) == "This is Heron again."


HOSTILE = [
    "",
    "...",
    "<<<>>>",
    "\x00\x1b[31m red",
    "\u202eabc",
    "{athlete} {x}",
    "🚣 🚣 🚣 🚣",
    "a\\",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_talk_breaks_nothing(text):
    rows = [(kind, "catch", "shins", text) for kind in ("keep", "change", "coaching_cue", "drill")]
    made = write(rows, alias=text)
    assert "<" not in made.description
    assert not re.search(r"[\x00\x1b\u202e]", made.description + made.markdown + made.post)
    assert len(made.post) <= 280


def test_a_spread_that_would_print_as_nothing_is_left_out():
    still = Measure("rate", "stroke rate", 30.0, "spm", 0.0, 4, 0.9)
    assert "0.0" not in numbers.told(still, 4)
    assert "0.2" in numbers.told(replace(still, spread=0.2), 4)


def test_what_a_pronoun_stands_for_is_not_cut_away():
    said = "Let me go back. Watch your hands. They leave the body first."
    assert spoken.statements(said) == ["Watch your hands.", "They leave the body first."]
    assert spoken.statements("Watch your hands. The knees wait for the handle.") == [
        "The knees wait for the handle."
    ]
