"""The table itself: what each stage says it reads, it reads; and the other way round."""

import dataclasses
import inspect
import re

import pytest

from studio import stages
from studio.config import Corrections, Settings
from studio.stages import STAGES

BY_NAME = {s.name: s for s in STAGES}


@pytest.mark.parametrize("stage", STAGES, ids=BY_NAME)
def test_every_result_a_stage_reads_is_among_its_needs(stage):
    text = inspect.getsource(stage.run)
    read = set(re.findall(r'job\.result\("(\w+)"\)', text))
    read |= set(re.findall(r'_pair\(job, "(\w+)"\)', text))
    assert read <= set(stage.needs)


@pytest.mark.parametrize("stage", STAGES, ids=BY_NAME)
def test_names_of_settings_and_corrections_exist_and_needs_come_first(stage):
    for dotted in stage.settings:
        owner = Settings()
        for name in dotted.split("."):
            owner = getattr(owner, name)
    assert set(stage.corrections) <= {f.name for f in dataclasses.fields(Corrections)}
    order = list(BY_NAME)
    assert all(order.index(need) < order.index(stage.name) for need in stage.needs)


def test_a_new_title_does_not_listen_again():
    reads_title = {"episode", "episode.title"}
    assert not reads_title & {*BY_NAME["words"].settings, *BY_NAME["outline"].settings}
    assert reads_title & set(BY_NAME["episode"].settings)


def test_new_words_render_no_picture():
    """What the picture and the sound rest on says nothing of title, captions and chapters."""
    reaches = {"picture", "sound"}
    for _ in range(3):
        reaches |= {need for name in reaches for need in BY_NAME[name].needs}
    assert "plan" in reaches  # by way of `shots` alone
    assert all("plan" not in BY_NAME[name].needs for name in reaches - {"shots"})
    read = {s for n in ("picture", "sound", "shots") for s in BY_NAME[n].settings}
    assert read == {"picture", "sound"}


def test_every_stage_has_its_own_name():
    assert len(BY_NAME) == len(stages.STAGES)
