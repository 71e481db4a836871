"""Loudness against the signals of EBU Tech 3341 v4 (table 1) and against pyloudnorm."""

import numpy as np
import pyloudnorm
import pytest

from studio.deliver.loudness import SILENCE_LUFS, integrated, limited, measure, set_loudness

RATE = 48000


def sine(level_db, seconds, hz=1000.0, phase_deg=0.0):
    t = np.arange(round(seconds * RATE)) / RATE
    mono = 10 ** (level_db / 20) * np.sin(2 * np.pi * hz * t + np.radians(phase_deg))
    return np.stack([mono, mono], 1).astype(np.float32)


def faded(samples):
    """With 50 ms fades: an abrupt start would be a peak of its own."""
    n = RATE // 20
    gain = np.ones(len(samples))
    gain[:n], gain[-n:] = np.linspace(0, 1, n), np.linspace(1, 0, n)
    return (samples * gain[:, None]).astype(np.float32)


def write(path, samples):
    np.ascontiguousarray(samples, "<f4").tofile(path)
    return path


def read(path):
    return np.fromfile(path, "<f4").reshape(-1, 2)


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        ([(-23, 20)], -23.0),
        ([(-33, 20)], -33.0),
        ([(-36, 10), (-23, 60), (-36, 10)], -23.0),
        ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
        ([(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
    ],
)
def test_integrated_loudness_of_ebu_tech_3341_cases_1_to_5(tmp_path, parts, expected):
    samples = np.concatenate([sine(level, seconds) for level, seconds in parts])
    # tolerance of Tech 3341: 0.1 LU
    found = measure(write(tmp_path / "a.f32", samples)).lufs
    assert found == integrated(tmp_path / "a.f32") == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize(
    ("share", "phase", "amplitude", "expected"),
    [(4, 0, 0.5, -6.0), (4, 45, 0.5, -6.0), (6, 60, 0.5, -6.0), (8, 67.5, 0.5, -6.0),
     (4, 45, 1.41, 3.0)],
)  # fmt: skip
def test_true_peak_of_ebu_tech_3341_cases_15_to_19(tmp_path, share, phase, amplitude, expected):
    level = 20 * np.log10(amplitude)
    samples = faded(sine(level, 1.0, RATE / share, phase))
    peak = measure(write(tmp_path / "a.f32", samples)).peak_db
    assert expected - 0.4 <= peak <= expected + 0.2  # tolerance of Tech 3341


def speech_like(seconds=12, seed=1):
    """Bursts of noise with pauses and sharp peaks, about as uneven as a voice."""
    rng = np.random.default_rng(seed)
    t = np.arange(seconds * RATE) / RATE
    envelope = np.clip(np.sin(2 * np.pi * 1.7 * t), 0, 1) ** 2 + 0.002
    mono = rng.normal(0, 0.03, len(t)) * envelope
    mono[:: RATE // 3] += 0.5
    return np.stack([mono, mono], 1).astype(np.float32)


@pytest.mark.parametrize("target", [-14.0, -16.0, -23.0])
def test_the_wanted_loudness_is_reached_below_the_ceiling(tmp_path, target):
    source = write(tmp_path / "a.f32", speech_like())
    set_loudness(source, tmp_path / "b.f32", integrated(source), target_lufs=target,
                 ceiling_db=-1.5)  # fmt: skip
    after = measure(tmp_path / "b.f32")
    assert after.lufs == pytest.approx(target, abs=0.3)
    assert after.peak_db <= -1.4  # the meter prints tenths
    # a second meter, by other people: pyloudnorm's BS.1770-4
    other = pyloudnorm.Meter(RATE).integrated_loudness(read(tmp_path / "b.f32").astype(float))
    assert other == pytest.approx(target, abs=0.4)
    assert len(read(tmp_path / "b.f32")) == len(speech_like())


def test_without_peaks_the_gain_is_one_number_for_all(tmp_path):
    source = write(tmp_path / "a.f32", sine(-30, 12))
    gain_db = set_loudness(source, tmp_path / "b.f32", integrated(source), target_lufs=-23.0,
                           ceiling_db=-1.5)  # fmt: skip
    ratio = read(tmp_path / "b.f32")[100:-100] / read(source)[100:-100]
    np.testing.assert_allclose(ratio[np.isfinite(ratio)], 10 ** (gain_db / 20), rtol=1e-4)
    assert measure(tmp_path / "b.f32").lufs == pytest.approx(-23.0, abs=0.1)


def test_silence_stays_silent(tmp_path):
    source = write(tmp_path / "a.f32", np.zeros((RATE, 2), np.float32))
    before = integrated(source)
    assert before == SILENCE_LUFS
    gain_db = set_loudness(source, tmp_path / "b.f32", before, target_lufs=-14.0,
                           ceiling_db=-1.0)  # fmt: skip
    assert gain_db == 0
    assert not read(tmp_path / "b.f32").any()


def test_the_limiter_leaves_quiet_stretches_alone_and_never_jumps():
    samples = sine(-20, 1.0, 200)
    samples[RATE // 2] = 1.4
    out = limited(samples, -1.0)
    far = np.abs(np.arange(RATE) - RATE // 2) > RATE // 50
    np.testing.assert_allclose(out[far], samples[far], rtol=1e-5)
    gain = out[:, 0] / np.where(np.abs(samples[:, 0]) < 1e-3, np.nan, samples[:, 0])
    assert np.nanmax(np.abs(np.diff(gain))) < 0.02
    assert np.abs(out).max() <= 10 ** (-1 / 20) + 1e-6
