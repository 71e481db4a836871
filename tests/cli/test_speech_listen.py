"""`launchside listen` from end to end with the small model, on four seconds of synthetic voice."""

import json
from pathlib import Path

import av
import numpy as np
import pytest
from click.testing import CliRunner

from studio.cli.listen import command
from studio.errors import MediaError, ToolError

VOICE = Path(__file__).parents[1] / "data" / "speech_cue.opus"
SAID = [
    "so",
    "here's",
    "the",
    "cue",
    "body",
    "over",
    "early",
    "and",
    "then",
    "leave",
    "it",
    "alone",
]
ONSET_S = 0.29  # of the voice in the file, by its truth


def voice(rate=16000):
    with av.open(str(VOICE)) as container:
        resampler = av.AudioResampler("flt", "mono", rate)
        frames = [f for frame in container.decode(audio=0) for f in resampler.resample(frame)]
    return np.concatenate([f.to_ndarray().ravel() for f in frames])


def listen(path, out, *options):
    made = CliRunner().invoke(
        command, [str(path), "--json", str(out), "--model", "tiny.en", *options],
        catch_exceptions=False,
    )  # fmt: skip
    assert made.exit_code == 0, made.output
    return json.loads(out.read_text()), made.output


def heard(made):
    return [w["text"].lower().strip(".,:") for w in made["words"]]


def test_a_sound_file(tmp_path):
    made, told = listen(VOICE, tmp_path / "o.json")
    assert (made["schema"], made["version"], made["language"]) == ("launchside.speech", 1, "en")
    assert heard(made) == SAID
    assert made["words"][0]["start_s"] == pytest.approx(ONSET_S, abs=0.1)
    times = [t for w in made["words"] for t in (w["start_s"], w["end_s"])]
    assert times == sorted(times)
    assert made["sentences"][0]["start_s"] == made["words"][0]["start_s"]
    assert f"{len(SAID)} words" in told
    again, silent = listen(VOICE, tmp_path / "p.json", "--quiet")
    assert again == made
    assert silent == ""


def test_a_recording_on_its_own_clock_with_silence_and_noise_around(tmp_path, make_video):
    rng = np.random.default_rng(3)
    sound = np.concatenate([np.zeros(48000 * 3), voice(48000), rng.normal(0, 0.003, 48000 * 3)])
    images = [np.zeros((90, 120, 3), np.uint8)] * 20
    path = make_video(tmp_path / "r.mp4", images, rate=2, sound=sound)
    made, _ = listen(path, tmp_path / "o.json")
    assert heard(made) == SAID
    assert made["words"][0]["start_s"] == pytest.approx(3 + ONSET_S, abs=0.12)
    assert made["words"][-1]["end_s"] < 3 + 4.6


def test_nothing_is_invented(tmp_path, make_video):
    rng = np.random.default_rng(3)
    t = np.arange(48000 * 6) / 48000
    music = sum(0.1 * np.sin(2 * np.pi * f * t) for f in (220, 277, 330, 440))
    images = [np.zeros((90, 120, 3), np.uint8)] * 12
    sounds = {"silence": 0 * t, "noise": rng.normal(0, 0.05, len(t)), "music": music}
    for name, sound in sounds.items():
        path = make_video(tmp_path / f"{name}.mp4", images, rate=2, sound=sound)
        made, told = listen(path, tmp_path / "o.json")
        assert made["words"] == made["sentences"] == made["doubtful"] == []
        assert "0 words" in told


def test_no_sound_no_file_no_model(tmp_path, tiny_clip):
    run = CliRunner().invoke
    out = tmp_path / "o.json"
    with pytest.raises(MediaError, match="no sound"):
        run(command, [str(tiny_clip), "--json", str(out)], catch_exceptions=False)
    with pytest.raises(MediaError):
        run(command, ["none.mp4", "--json", str(out)], catch_exceptions=False)
    with pytest.raises(ToolError, match="no such speech model"):
        run(command, [str(VOICE), "--json", str(out), "--model", "none"], catch_exceptions=False)
    assert not out.exists()
    assert run(command, [str(VOICE)]).exit_code == 2
