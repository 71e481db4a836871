"""Faces: the athlete's in every frame, and a bystander's that wanders through the clip."""

import cv2
import numpy as np
import pytest
from matplotlib.cbook import get_sample_data

from studio.deliver.faces import FaceTrack, bystanders, near
from studio.ingest.probe import probe
from tests.edit_scene import technique

SIZE = (320, 180)
FACE = (170, 20, 215, 215)
"""x, y, width, height of head and collar in matplotlib's sample portrait (public domain)."""


def portrait(height):
    with get_sample_data("grace_hopper.jpg") as file:
        image = cv2.imdecode(np.frombuffer(file.read(), np.uint8), cv2.IMREAD_COLOR)
    x, y, width, tall = FACE
    return cv2.resize(image[y : y + tall, x : x + width], None, fx=height / tall, fy=height / tall,
                      interpolation=cv2.INTER_AREA)  # fmt: skip


def place(number):
    """Left and top of the bystander's picture: walks along the far wall."""
    return 120 + 2 * number, 60


@pytest.fixture(scope="module")
def walk(tmp_path_factory):
    """Two seconds with one real face besides the athlete's."""
    from tests.conftest import write_video

    face = portrait(70)
    images = []
    for number in range(60):
        image = np.full((SIZE[1], SIZE[0], 3), 120, np.uint8)
        x, y = place(number)
        image[y : y + face.shape[0], x : x + face.shape[1]] = face
        images.append(image)
    return write_video(tmp_path_factory.mktemp("walk") / "clip.mp4", images)


def test_a_bystander_is_found_all_the_way(walk):
    others = bystanders(walk, probe(walk), technique())
    face = portrait(70)
    for number in range(60):
        x, y = place(number)
        centre = np.array([x + face.shape[1] / 2, y + face.shape[0] * 0.45])
        found = near(others, number / 30)
        assert found, number
        # eyes, nose and mouth lie within a quarter of the picture's height of the middle
        assert any(
            np.hypot(*(centre - (f.x_px, f.y_px))) + face.shape[0] / 4 < f.radius_px * 1.3
            or np.hypot(*(centre - (f.x_px, f.y_px))) < f.radius_px * 0.7
            for f in found
        ), number


def test_the_athletes_own_face_is_no_bystander(walk):
    own = technique()
    found = bystanders(walk, probe(walk), own)
    middle = np.array(found.circle_px).mean(0)
    times = own.body.time_s
    moved = own.body.face_px.copy()
    for row, time in enumerate(times):
        x, y = place(min(59, round(time * 30)))
        moved[row] = (x + 35, y + 32, middle[2])
    own.body.face_px[:] = moved
    assert len(bystanders(walk, probe(walk), own).time_s) == 0


def test_a_clip_without_faces_has_no_bystanders(tmp_path):
    from tests.conftest import write_video

    images = [np.full((180, 320, 3), 120, np.uint8)] * 15
    clip = write_video(tmp_path / "clip.mp4", images)
    assert len(bystanders(clip, probe(clip), technique()).time_s) == 0


@pytest.mark.parametrize("gap", [1, 5, 20])
def test_a_lost_face_means_a_larger_blur_never_none(gap):
    tech = technique()
    face = tech.body.face_px
    truth = face.copy()
    face[30 : 30 + gap] = np.nan
    track = FaceTrack(tech, SIZE)
    for row in range(len(truth)):
        found = track.at(row / 30, 0.07)
        assert np.hypot(found.x_px - truth[row, 0], found.y_px - truth[row, 1]) + truth[row, 2] <= (
            found.radius_px
        )
