"""Following the talk, one difficulty at a time: recordings made here, truth exact."""

import itertools

import cv2
import numpy as np
import pytest

from studio.errors import EvidenceError
from studio.model.playhead import STATES
from tests.playhead_desk import (
    CLIP_FPS,
    EVEN,
    SCREEN_PX,
    Moment,
    Scene,
    clip_images,
    run,
    screens,
    speckle,
    talk,
    write,
)

CLOSE_PX = 0.3
"""Corner error of a place that stands, screen pixels."""


@pytest.fixture(scope="module")
def clip():
    return clip_images()


@pytest.fixture(scope="module")
def clip_path(clip, tmp_path_factory):
    path = tmp_path_factory.mktemp("clip") / "clip.mp4"
    return write(path, clip, np.arange(len(clip)) / CLIP_FPS, 12)


@pytest.fixture
def tried(tmp_path, clip, clip_path):
    def try_scene(scene):
        return run(tmp_path, scene, clip, clip_path)

    return try_scene


def found_all(outcome, exact=0.98, near_px=CLOSE_PX):
    precision, recall = outcome.presence()
    assert precision == 1
    assert recall == 1
    assert outcome.exact() >= exact
    assert np.nanquantile(outcome.corner_px, 0.95) <= near_px


@pytest.mark.parametrize(
    ("scale", "x", "y"), [(0.45, 12.3, 80.7), (0.83, 21.6, 18.2), (1.0, 0.0, 0.0)]
)
def test_any_scale_and_position_and_a_letterbox(tried, scale, x, y):
    found_all(tried(Scene(talk(scale=scale, x=x, y=y))))


def test_a_mirrored_picture(tried):
    outcome = tried(Scene(talk(mirrored=True)))
    found_all(outcome)
    assert (outcome.found.clip_to_screen[:, 0, 0] < 0).all()
    assert "mirrored" in " ".join(outcome.found.notices)


def test_states_and_rates(tried):
    outcome = tried(Scene(talk()))
    states = [STATES[s] for s in outcome.found.state]
    assert set(states[1:11]) == {"paused"}
    assert set(states[14:36]) == {"playing"}
    assert set(states[38:50]) == {"paused"}
    assert set(states[53:64]) == {"scrubbing"}
    assert set(states[84:100]) == {"playing"}
    rates = [s.rate for s in outcome.found.spans if s.state == "playing"]
    assert rates == pytest.approx([1.0, 0.5], abs=0.06)
    spans = outcome.found.spans
    assert all(a.end_s == b.start_s for a, b in itertools.pairwise(spans))


def zoomed(moments, start, length, scale, cx, cy):
    """The picture grown about a clip point that stays put, over `length` frames, then held."""
    for k, moment in enumerate(moments[start:]):
        part = min(1.0, k / length)
        grown = moment.scale * (1 + (scale / moment.scale - 1) * (3 * part**2 - 2 * part**3))
        moment.x += (moment.scale - grown) * cx
        moment.y += (moment.scale - grown) * cy
        moment.scale = grown
    return moments


@pytest.mark.parametrize("start", [3, 40])
def test_a_zoom_and_a_pan_within_the_window(tried, start):
    window = (40, 23, 264, 148)
    moments = zoomed(talk(), start, 12, 1.5, 150, 90)
    for k, moment in enumerate(moments[70:]):
        moment.x -= 2.0 * min(k, 12)
    outcome = tried(Scene(moments, window=window))
    precision, recall = outcome.presence()
    assert precision == 1
    assert recall >= 0.98
    assert outcome.exact() >= 0.95
    assert np.nanquantile(outcome.corner_px, 0.95) <= 1.0  # two thirds of a pixel of the clip
    x0, y0, x1, y1 = outcome.found.seen_px[outcome.found.placement[-1]]
    np.testing.assert_allclose([x0, y0, x1, y1], window, atol=1.5)


def inset(screen, index):
    """A presenter who moves, over the picture's lower left corner."""
    face = cv2.cvtColor(speckle((50, 64), 30 + index // 2, low=0, high=50), cv2.COLOR_GRAY2BGR)
    screen[96:146, 42:106] = face
    return screen


def test_a_camera_inset_over_a_corner(tried):
    outcome = tried(Scene(talk(), over=[inset]))
    found_all(outcome)
    assert outcome.found.covered
    x0, y0, x1, y1 = outcome.found.covered[0].box_px
    assert (x0 + x1) / 2 == pytest.approx(74, abs=12)
    assert (y0 + y1) / 2 == pytest.approx(121, abs=12)
    assert not outcome.found.drawn


def window_frame(screen, index):
    """A title bar with buttons, and a seek bar that moves."""
    screen[:18] = 200
    cv2.putText(screen, "player", (6, 13), cv2.FONT_HERSHEY_SIMPLEX, 0.4, (20, 20, 20), 1)
    cv2.circle(screen, (305, 9), 5, (40, 40, 200), -1)
    screen[160:] = 225
    cv2.rectangle(screen, (20, 168), (300, 172), (150, 150, 150), -1)
    cv2.circle(screen, (20 + 2 * index, 170), 6, (30, 30, 30), -1)
    return screen


def test_window_decoration_and_a_moving_seek_bar(tried):
    found_all(tried(Scene(talk(), over=[window_frame])))


def test_small_copies_of_the_same_clip_are_not_it(tried, clip):
    def thumbnails(screen, index):
        for k in range(4):
            at = 4 + 80 * k
            screen[152:178, at : at + 46] = cv2.resize(
                clip[15 * k], (46, 26), interpolation=cv2.INTER_AREA
            )
        return screen

    moments = [Moment(-1)] * 20 + talk()
    outcome = tried(Scene(moments, over=[thumbnails]))
    found_all(outcome)


def elsewhere(seed):
    """Another window: nothing of the clip."""
    return cv2.cvtColor(speckle(SCREEN_PX[::-1], seed, cell=6), cv2.COLOR_GRAY2BGR)


def test_intro_outro_and_other_windows_are_absent(tried):
    moments = [Moment(-1)] * 25 + talk()[:40] + [Moment(-1)] * 20 + talk()[40:] + [Moment(-1)] * 20

    def others(screen, index):
        if moments[index].frame >= 0:
            return screen
        return elsewhere(50 + (index > 30) + (index > 120))

    outcome = tried(Scene(moments, over=[others]))
    found_all(outcome)
    absent = [s for s in outcome.found.spans if s.state == "absent"]
    assert [round(s.start_s * 30) for s in absent] == [0, 65, 149]
    assert all(s.clip_start_s is None and s.rate is None for s in absent)


def test_drawings_and_a_cursor_do_not_count_and_are_reported(tried):
    def drawn(screen, index):
        if index >= 38:
            cv2.circle(screen, (150, 80), 22, (0, 0, 255), 4, cv2.LINE_AA)
            cv2.line(screen, (90, 40), (190, 120), (0, 255, 255), 4, cv2.LINE_AA)
        at = 60 + index
        cv2.fillPoly(screen, [np.array([(at, 60), (at, 72), (at + 8, 68)])], (255, 255, 255))
        return screen

    outcome = tried(Scene(talk(), over=[drawn]))
    found_all(outcome, exact=0.97)
    assert outcome.found.drawn
    first = min(a.start_s for a in outcome.found.drawn)
    assert first == pytest.approx(38 / 30, abs=0.1)
    x0, y0 = (min(a.box_px[k] for a in outcome.found.drawn) for k in (0, 1))
    x1, y1 = (max(a.box_px[k] for a in outcome.found.drawn) for k in (2, 3))
    assert x0 < 120 < 170 < x1
    assert y0 < 60 < 100 < y1


def test_brightness_and_colour_shift_and_recompression(tried):
    def shifted(screen, index):
        return np.clip(screen * [0.7, 0.8, 0.75] + [38, 22, 10], 0, 255).astype(np.uint8)

    found_all(tried(Scene(talk(), over=[shifted], crf=32)), exact=0.95, near_px=0.6)


def test_a_player_that_dims_the_picture_at_rest(tried):
    moments = talk()

    def dimmed(screen, index):
        rests = index and moments[index].frame == moments[index - 1].frame
        return (screen * (0.45 if rests else 1)).astype(np.uint8)

    found_all(tried(Scene(moments, over=[dimmed])), exact=0.95)


def test_strokes_that_cannot_be_told_apart_lower_the_confidence(tmp_path, clip, clip_path, tried):
    plain = tried(Scene(talk()))
    assert (plain.found.confidence >= 0.5).mean() > 0.98
    same = clip_images(EVEN)
    outcome = run(tmp_path, Scene(talk()), same)
    assert np.median(outcome.found.confidence) < 0.5
    apart = np.abs(outcome.found.second_s - outcome.found.clip_s)
    period = EVEN[0][0] / CLIP_FPS
    strokes = apart / period
    np.testing.assert_allclose(strokes, np.rint(strokes), atol=0.1)
    # the phase is right all the same
    assert ((outcome.said - outcome.true) % EVEN[0][0] == 0).mean() > 0.97


def test_variable_frame_rate_counts_on_pts(tried):
    rng = np.random.default_rng(8)
    times = np.cumsum(rng.choice([1, 2, 3, 6], 110) / 60)
    times -= times[0]
    frames = [min(4 + int(t * CLIP_FPS * 0.5 + 1e-6), 70) for t in times]
    outcome = tried(Scene([Moment(f) for f in frames], times_s=times))
    found_all(outcome)
    playing = [s for s in outcome.found.spans if s.state == "playing"]
    assert playing[0].rate == pytest.approx(0.5, abs=0.03)
    assert playing[0].end_s - playing[0].start_s > 0.8 * (66 / CLIP_FPS / 0.5)


def test_a_recording_without_the_clip_is_refused(tried):
    with pytest.raises(EvidenceError, match="never on screen") as caught:
        tried(Scene([Moment(-1)] * 40, over=[lambda screen, index: elsewhere(index // 10)]))
    assert caught.value.exit_code == 4


def test_another_clip_of_the_same_room_is_refused(tmp_path, clip):
    scene = Scene(talk())
    path = write(tmp_path / "r.mp4", screens(scene, clip), scene.times())
    other = clip_images(seed=1)[:, :, ::-1][:40].copy()
    other[:, :, 100:] = np.roll(other[:, :, 100:], 60, axis=2)
    other_path = write(tmp_path / "o.mp4", other, np.arange(40) / CLIP_FPS)
    from studio.ingest.probe import probe
    from studio.playhead.follow import follow
    from studio.progress import Quiet

    with pytest.raises(EvidenceError):
        follow(path, probe(path), other_path, probe(other_path), progress=Quiet())


@pytest.mark.parametrize("change", ["recoded", "trimmed", "rescaled"])
def test_a_changed_copy_of_the_clip_still_works(tmp_path, clip, change):
    lead = 6 if change == "trimmed" else 0
    images = clip[lead:]
    size, crf = {"recoded": ((320, 180), 30), "trimmed": ((320, 180), 18),
                 "rescaled": ((240, 136), 22)}[change]  # fmt: skip
    path = write(tmp_path / "c.mp4", images, np.arange(len(images)) / CLIP_FPS, crf, size)
    outcome = run(tmp_path, Scene(talk(first=12)), clip, path)
    said = np.where(outcome.said >= 0, outcome.said + lead, -1)
    assert outcome.presence() == (1, 1)
    assert (np.abs(said - outcome.true) <= 1).mean() >= 0.97
    assert (said == outcome.true).mean() >= 0.9
    if change != "trimmed":
        assert np.nanquantile(outcome.corner_px, 0.95) <= 0.6
