"""What every pose backend must do; all of BACKENDS, and the smallest, of DEVELOPERS.md."""

import numpy as np
import pytest

from studio.ingest.probe import probe
from studio.model.pose import LANDMARKS
from studio.progress import Quiet
from studio.technique.backend import Person, Seen
from studio.technique.backends import BACKENDS
from studio.technique.locate import find_athlete
from studio.technique.models import heavy_weights
from studio.technique.pose import track_with
from tests.docs.examples import example

Brightest = example("backend")["Brightest"]


@pytest.fixture(params=["brightest", *BACKENDS])
def backend(request):
    if request.param == "heavy" and heavy_weights() is None:
        pytest.skip("the heavy weights are not on this computer")
    with (BACKENDS | {"brightest": Brightest})[request.param]() as estimator:
        yield estimator


def test_nobody_in_an_empty_picture(backend):
    empty = np.zeros((120, 160, 3), np.uint8)
    assert backend.people(empty) == []
    assert backend.follow(empty) is None
    backend.forget()
    assert backend.follow(empty) is None
    assert backend.source


def test_a_clip_without_anyone_gives_a_track_of_nothing(backend, tiny_clip):
    media = probe(tiny_clip)
    pose = track_with(backend, tiny_clip, media.video, progress=Quiet())
    assert len(pose.time_s) == 30
    if backend.source != "brightest 1":
        assert np.isnan(pose.xy_px).all()
    assert pose.source == backend.source


def test_the_backend_is_silent(backend, capfd):
    backend.follow(np.zeros((120, 160, 3), np.uint8))
    assert capfd.readouterr() == ("", "")


def test_positions_come_back_in_pixels_of_the_whole_picture(make_video, tmp_path):
    images = []
    for i in range(12):
        image = np.zeros((160, 240, 3), np.uint8)
        image[70:90, 100 + 2 * i : 120 + 2 * i] = 255
        images.append(image)
    path = make_video(tmp_path / "patch.mp4", images)
    pose = track_with(Brightest(), path, probe(path).video, progress=Quiet())
    assert pose.xy_px[:, 0, 0] == pytest.approx(109.5 + 2 * np.arange(12), abs=1.0)
    assert pose.xy_px[:, 0, 1] == pytest.approx(np.full(12, 79.5), abs=1.0)


class Crowd(Brightest):
    """A large standing bystander on the left, a smaller rower on the right."""

    def people(self, image):
        return [
            Person(np.array([60.0, 80.0]), 55.0, 0.95),
            Person(np.array([250.0, 90.0]), 45.0, 0.9),
        ]

    def follow(self, image):
        standing = image[0, 0, 0] == 10  # the crop's corner tells the two apart
        xy = np.zeros((len(LANDMARKS), 2), np.float32)
        hip = [LANDMARKS.index(n) for n in ("left_hip", "right_hip")]
        ankle = [LANDMARKS.index(n) for n in ("left_ankle", "right_ankle")]
        xy[hip] = (50.0, 50.0)
        xy[ankle] = (52.0, 95.0) if standing else (95.0, 55.0)
        return Seen(xy, np.ones(33, np.float32), np.zeros((33, 3), np.float32), None)


def test_who_sits_is_followed_and_not_the_larger_bystander():
    picture = np.zeros((180, 320, 3), np.uint8)
    picture[:, :160] = 10
    crop = find_athlete([picture] * 4, Crowd())
    assert crop is not None
    assert crop.x0 > 120


class Shortsighted(Brightest):
    """Finds a patch only in a small picture, and loses it now and then until shown another."""

    def __init__(self):
        self.lost = True

    def people(self, image):
        return super().people(image) if image.shape[1] <= 160 else []

    def follow(self, image):
        if self.lost and image[2, 2, 0] < 40:  # in the dark nobody is found, only followed
            return None
        seen = super().follow(image)
        self.lost = seen is None
        return seen

    def forget(self):
        self.lost = True


def test_someone_too_small_for_the_whole_picture_is_looked_for_closer():
    picture = np.full((180, 320, 3), 60, np.uint8)
    picture[100:112, 220:232] = 255
    crop = find_athlete([picture] * 3, Shortsighted())
    assert crop is not None
    assert crop.x0 < 220 < 232 < crop.x1
    assert crop.y0 < 100 < 112 < crop.y1
    assert find_athlete([np.zeros((180, 320, 3), np.uint8)] * 3, Shortsighted()) is None


def test_a_lost_athlete_is_followed_again_from_a_picture_in_which_they_were_found(
    make_video, tmp_path
):
    images = []
    for i in range(24):
        image = np.full((96, 128, 3), 20 if i < 8 else 60, np.uint8)
        if i != 3:  # out of the picture for a moment, in the dark
            image[40:60, 50 + i : 70 + i] = 255
        images.append(image)
    path = make_video(tmp_path / "patch.mp4", images)
    pose = track_with(Shortsighted(), path, probe(path).video, progress=Quiet())
    assert np.flatnonzero(np.isnan(pose.xy_px[:, 0, 0])).tolist() == [3]


def test_where_the_athlete_is_while_the_camera_looks_away_belongs_to_the_crop():
    class Alone(Crowd):
        def people(self, image):
            if image.shape[1] < 320:
                return []
            return [Person(np.array([250.0 if image[0, 0, 0] else 110.0, 90.0]), 45.0, 0.9)]

    here, there = np.zeros((180, 320, 3), np.uint8), np.full((180, 320, 3), 5, np.uint8)
    crop = find_athlete([here, here, here, there], Alone())
    assert crop is not None
    assert crop.x0 < 80
    assert crop.x1 > 280


def test_one_pass_and_going_to_each_place_show_the_same_pictures(make_video, tmp_path, monkeypatch):
    images = [np.full((64, 96, 3), 5 * i, np.uint8) for i in range(40)]
    path = make_video(tmp_path / "brighter.mp4", images)
    video = probe(path).video
    passed, sought = [], []
    for shown, short_frames in ((passed, 40), (sought, 39)):
        monkeypatch.setattr("studio.technique.pose._SHORT_FRAMES", short_frames)

        class Looks(Brightest):
            def people(self, image, shown=shown):
                shown.append(image.mean().round(1))
                return super().people(image)

        track_with(Looks(), path, video, progress=Quiet())
    assert len(set(passed)) >= 12
    assert passed == sought
