"""The topic head: against a reference library where it is at hand, and on talks it never read."""

import re

import numpy as np
import pytest

from benchmarks import _talks
from studio.speech import lexicon, likeness


def test_the_head_is_a_multinomial_logistic_regression():
    # scikit-learn's LogisticRegression minimises the same loss; its C is one by the penalty
    reference = pytest.importorskip("sklearn.linear_model")
    chance = np.random.default_rng(5)
    labels = [name for name in ("back", "grip", "head") for _ in range(20)]
    rows = chance.normal(size=(60, 4)) + np.repeat(np.eye(3, 4), 20, axis=0)
    made = likeness.learn(rows, labels)
    known = reference.LogisticRegression(C=1 / likeness.PENALTY, tol=1e-8).fit(rows, labels)
    # a constant added to every class's weights changes nothing, so they are compared centred
    centred = made - made.mean(axis=1, keepdims=True)
    assert np.abs(centred[:-1].T - known.coef_).max() < 2e-3


def test_remarks_are_of_known_kinds_and_topics_and_said_once():
    rows = likeness.remarks()
    assert {kind for kind, _, _ in rows} == {"keep", "change", "coaching_cue", "drill"}
    assert {topic for _, topic, _ in rows} == set(lexicon.topics())
    assert len({said.lower() for _, _, said in rows}) == len(rows)


def test_remarks_are_no_sentences_of_the_talks_that_measure_them():
    measured = {
        lexicon.plain(row["text"]).text
        for path in _talks.FOLDER.glob("*.talk")
        for row in _talks.read_talk(path)["sentences"]
    }
    assert not measured & {lexicon.plain(said).text for _, _, said in likeness.remarks()}


def test_the_head_tells_one_topic_in_three_of_unread_talks():
    labelled = [
        (found[2], found[1].strip())
        for path in _talks.FOLDER.glob("*.talk")
        for found in re.finditer(
            r"^(?:keep|change|coaching_cue|drill) \S+ ([a-z ]+) \| (.+)$",
            path.read_text("utf-8"),
            re.MULTILINE,
        )
    ]
    assert len(labelled) > 100

    rows = likeness.topic_head([said for said, _ in labelled])
    right = sum(max(n, key=n.get) == topic for n, (_, topic) in zip(rows, labelled, strict=True))
    # words alone, among 23 topics: chance is one in 23
    assert right / len(labelled) > 1 / 3
