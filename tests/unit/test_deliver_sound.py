"""The sound track: in time, without clicks, with room tone in the holds."""

from fractions import Fraction
from itertools import pairwise

import av
import numpy as np
import pytest

from studio.deliver import sound as deliver
from studio.deliver.assemble import RATE_HZ, sections
from studio.deliver.loudness import measure
from studio.deliver.sound import RawSound, pieces, program_sound
from studio.ingest.audio import read_audio
from studio.ingest.probe import probe
from studio.model.plan import EditPlan, Shot

F = Fraction


def write_sound(path, samples, rate=48000):
    """(n,) or (n, 2) float to a WAV of 16-bit samples."""
    samples = np.asarray(samples, np.float32)
    stereo = samples.ndim == 2
    layout = "stereo" if stereo else "mono"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("pcm_s16le", rate=rate, layout=layout)
        ints = np.clip(samples * 32767, -32768, 32767).astype(np.int16).reshape(1, -1)
        frame = av.AudioFrame.from_ndarray(ints, format="s16", layout=layout)
        frame.sample_rate, frame.pts = rate, 0
        container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


THIRTY = F(30)


def plan_of(shots, rate=THIRTY):
    total = sum((s.duration_s for s in shots), F(0))
    return EditPlan(rate, 64, 64, total, tuple(shots), (), (), (), (), False, False)


def with_hold(at, length, total):
    return plan_of(
        [
            Shot("recording", F(0), F(at), F(0), F(1), "source"),
            Shot("hold", F(at), F(length), F(at), F(0), "room"),
            Shot("recording", F(at) + length, F(total) - at, F(at), F(1), "source"),
        ]
    )


def assembled(path, plan, tmp_path):
    source = RawSound(path, probe(path, need_video=False), tmp_path)
    total = round(plan.duration_s * RATE_HZ)
    return np.concatenate(list(sections(pieces(plan, source), total, source.channels)))


@pytest.mark.parametrize(("rate", "channels"), [(48000, 1), (44100, 1), (44100, 2), (48000, 2)])
def test_a_click_comes_out_where_the_plan_puts_it(tmp_path, rate, channels):
    sound = np.zeros(rate * 60)
    times = [0.5, 20.0, 40.25, 59.0]
    for time in times:
        sound[round(time * rate)] = 0.9
    if channels == 2:
        sound = np.stack([sound, sound], 1)
    path = write_sound(tmp_path / "a.wav", sound, rate)
    out = assembled(path, with_hold(30, F(5, 2), 60), tmp_path)
    assert len(out) == round(62.5 * RATE_HZ)
    expected = [t + (2.5 if t > 30 else 0) for t in times]
    loud = np.flatnonzero(np.abs(out[:, 0]) > 0.2) / RATE_HZ
    for time in expected:
        # a tenth of a millisecond after a minute: 6 ms in an hour at the very worst
        assert np.abs(loud - time).min() < 1e-4


def test_cuts_lie_on_the_sample_after_an_hour_at_an_odd_rate(tmp_path):
    rate = F(30000, 1001)
    path = write_sound(tmp_path / "a.wav", np.zeros(4800))
    source = RawSound(path, probe(path, need_video=False), tmp_path)
    shots, now, played = [], F(0), F(0)
    for _ in range(120):  # an hour with a hold every half minute
        for kind, length, speed, sound in (("recording", 867 / rate, F(1), "source"),
                                           ("hold", 71 / rate, F(0), "room")):  # fmt: skip
            shots.append(Shot(kind, now, length, played, speed, sound))
            now += length
            played += length * speed
    made = pieces(plan_of(shots, rate), source)
    for shot, piece in zip(shots, made, strict=True):
        assert abs(piece.start / RATE_HZ - float(shot.program_start_s)) <= 0.5 / RATE_HZ + 1e-9
    for before, after in pairwise(made):
        assert before.start + before.count == after.start


def test_joins_do_not_click(tmp_path):
    t = np.arange(3 * 48000) / 48000
    sound = 0.5 * np.sin(2 * np.pi * 220 * t)
    path = write_sound(tmp_path / "a.wav", sound)
    out = assembled(path, with_hold(F(31, 30), F(1, 2), 3), tmp_path)[:, 0]
    inside = out[2400:-2400]  # the program's own first and last moments are faded
    # no step is steeper than the tone itself, whose steepest is 2 pi f A / rate
    assert np.abs(np.diff(inside)).max() < 1.1 * 0.5 * 2 * np.pi * 220 / 48000
    assert np.abs(out[:2]).max() < 0.01
    middle = out[round(1.2 * 48000) : round(1.4 * 48000)]
    assert np.abs(middle).max() < 1e-4  # a tone without a pause has no room to take


def test_a_hold_sounds_like_the_room(tmp_path):
    rng = np.random.default_rng(5)
    sound = rng.normal(0, 0.003, 3 * 48000)
    sound[: 48000 + 24000] += 0.3 * np.sin(2 * np.pi * 300 * np.arange(72000) / 48000)
    path = write_sound(tmp_path / "a.wav", sound)
    out = assembled(path, with_hold(1, F(3, 2), 3), tmp_path)[:, 0]

    def level_db(start_s, end_s):
        part = out[round(start_s * 48000) : round(end_s * 48000)]
        return 20 * np.log10(np.sqrt((part**2).mean()))

    assert level_db(1.1, 2.4) == pytest.approx(level_db(3.2, 4.4), abs=1.0)  # as the room later on
    assert level_db(1.1, 2.4) > -60


def test_one_channel_is_heard_on_both_sides_as_loud_as_two(tmp_path):
    t = np.arange(6 * 48000) / 48000
    voice = 0.05 * np.sin(2 * np.pi * 300 * t) * (1.5 + np.sin(2 * np.pi * t))
    plan = plan_of([Shot("recording", F(0), F(6), F(0), F(1), "source")])
    told = []
    for name, samples in (("one", voice), ("two", np.stack([voice, voice], 1) * 0.5**0.5)):
        path = write_sound(tmp_path / f"{name}.wav", samples)
        found = probe(path, need_video=False)
        out = tmp_path / f"{name}.m4a"
        told.append(deliver.write_sound(plan, (path, found), target_lufs=-14.0, out=out))
        assert measure(out, channels=None) == measure(out, channels=None, twin=True)
        assert measure(out, channels=None).lufs == pytest.approx(-14.0, abs=0.2)
        heard = read_audio(out, probe(out, need_video=False), rate_hz=48000, channels=2)
        assert np.allclose(heard[:, 0], heard[:, 1], atol=1e-3)
    assert told[0] == pytest.approx(told[1], abs=0.11)
    full = measure(tmp_path / "one.wav", channels=None).lufs  # as if at full power on both sides
    assert told[0]["loudness_before_lufs"] == pytest.approx(full - 3.0, abs=0.11)


def test_no_sound_makes_no_track(tmp_path, tiny_clip):
    plan = plan_of([Shot("recording", F(0), F(1), F(0), F(1), "none")])
    arguments = {"target_lufs": -14.0, "folder": tmp_path, "ceiling_db": -1.5}
    assert program_sound(plan, None, **arguments) is None
    assert program_sound(plan, (tiny_clip, probe(tiny_clip)), **arguments) is None
