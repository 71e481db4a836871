"""The runner, on a table of three small stages."""

from fractions import Fraction

import pytest

from studio.config import Corrections, HoldSettings, Settings, Sources
from studio.episode import Episode, locked, open_episode
from studio.errors import ConfigError, OutputError
from studio.model.media import AudioStream
from studio.pipeline import Stage, make, stale

KIND = "studio.model.media:AudioStream"


def audio(rate):
    return AudioStream(rate, 1, Fraction(0), Fraction(1), "pcm")


def table(log):
    def first(job):
        log.append("first")
        return audio(len(job.source("clip").read_text()))

    def second(job):
        log.append("second")
        return audio(job.result("first").sample_rate_hz * 2)

    def third(job):
        log.append("third")
        path = job.episode.out / "x.txt"
        path.parent.mkdir(exist_ok=True)
        path.write_text(str(job.result("second").sample_rate_hz))
        return [path]

    return (
        Stage("first", 1, (), first, sources=("clip",), kind=KIND),
        Stage("second", 1, ("first",), second, settings=("holds",), kind=KIND),
        Stage("third", 1, ("second",), third),
    )


@pytest.fixture
def episode(tmp_path):
    (tmp_path / "c.mp4").write_text("abc")
    return Episode(tmp_path, Settings(sources=Sources(clip="c.mp4")), Corrections())


def run(episode):
    log = []
    make(episode, table(log))
    return log


def test_a_second_make_does_nothing(episode):
    assert run(episode) == ["first", "second", "third"]
    assert run(episode) == []
    assert stale(episode, table([])) == {}


def test_a_setting_reruns_only_what_reads_it_and_what_follows(episode):
    run(episode)
    changed = Settings(sources=episode.settings.sources, holds=HoldSettings(seconds=3))
    # second comes out the same, so third has nothing to do
    assert run(Episode(episode.folder, changed, Corrections())) == ["second"]


def test_a_changed_source_reruns_the_chain_as_far_as_results_differ(episode):
    run(episode)
    (episode.folder / "c.mp4").write_text("xyz")
    assert run(episode) == ["first"]
    (episode.folder / "c.mp4").write_text("longer")
    assert run(episode) == ["first", "second", "third"]


def test_a_damaged_or_missing_file_is_remade(episode):
    run(episode)
    (episode.work / "second.json").write_text("{}")
    assert run(episode) == ["second"]
    (episode.out / "x.txt").unlink()
    assert run(episode) == ["third"]


def test_a_failing_stage_keeps_what_was_done(episode):
    def fail(job):
        raise ConfigError("no")

    stages = (*table([])[:2], Stage("third", 1, ("second",), fail))
    with pytest.raises(ConfigError):
        make(episode, stages)
    assert run(episode) == ["third"]


def test_two_makes_do_not_meet(episode):
    with locked(episode), pytest.raises(OutputError, match="another make"):
        make(episode, table([]))


def test_a_folder_that_is_no_episode(tmp_path):
    with pytest.raises(ConfigError, match="launchside new"):
        open_episode(tmp_path)
