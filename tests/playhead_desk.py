"""A drawn rower's clip and a talk-over screen recording of it, made at test time; truth exact.

The clip: a rower of thick lines on a slide before a speckled wall, three strokes that differ a
little. The recording: a screen on which the clip stands at a known place, played, rested, dragged.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from studio.ingest.probe import probe
from studio.playhead.follow import follow
from studio.progress import Quiet

CLIP_PX = SCREEN_PX = (320, 180)
CLIP_FPS, SCREEN_FPS = 25, 30
TICK = Fraction(1, 90000)
SWINGS = ((22, 1.0), (25, 0.9), (27, 1.07))
"""Frames and length of the three strokes."""
EVEN = ((25, 1.0),) * 3
"""Strokes that nobody can tell apart."""


def speckle(shape, seed, cell=3, low=60, high=200):
    """A picture of smooth speckles, (h, w) uint8."""
    rng = np.random.default_rng(seed)
    noise = cv2.GaussianBlur(rng.normal(size=shape), (0, 0), cell)
    noise = (noise - noise.min()) / np.ptp(noise)
    return (low + (high - low) * noise).astype(np.uint8)


def clip_images(swings=SWINGS, seed=1):
    """(F, h, w, 3) uint8 BGR."""
    wall = cv2.cvtColor(speckle(CLIP_PX[::-1], seed), cv2.COLOR_GRAY2BGR)
    cv2.rectangle(wall, (20, 20), (80, 70), (30, 90, 160), 3)
    cv2.rectangle(wall, (250, 100), (300, 165), (60, 60, 60), -1)
    return np.stack([
        _rower(wall.copy(), k / frames, length) for frames, length in swings for k in range(frames)
    ])  # fmt: skip


def _rower(image, phase, length):
    swing = 0.5 - 0.5 * np.cos(2 * np.pi * phase)  # 0 at the catch, 1 at the finish
    late = 0.5 - 0.5 * np.cos(2 * np.pi * phase - 0.6)
    hip = np.array([130 + 80 * length - 90 * length * swing, 128.0])
    shoulder = hip + 62 * np.array([np.sin(0.5 - 0.9 * late), -np.cos(0.5 - 0.9 * late)])
    hand = np.array([262 - 128 * length * late, 84 + 10 * np.sin(2 * np.pi * phase)])
    foot = np.array([268.0, 142.0])
    knee = (hip + foot) / 2 - [0, 55 * (1 - 0.8 * swing)]
    lines = [((262, 84), hand, (20, 20, 20), 2), (hip, knee, (60, 40, 190), 15),
             (knee, foot, (90, 160, 220), 11), (hip, shoulder, (200, 120, 40), 20),
             (shoulder, hand, (110, 170, 220), 8)]  # fmt: skip
    for a, b, colour, width in lines:
        cv2.line(image, _fine(a), _fine(b), colour, width, cv2.LINE_AA, shift=4)
    cv2.circle(image, _fine(shoulder - [0, 14]), 12 * 16, (100, 160, 210), -1, cv2.LINE_AA, shift=4)
    return image


def _fine(point):
    """A point in sixteenths of a pixel."""
    return tuple(round(float(v) * 16) for v in point)


@dataclass
class Moment:
    """What the screen shows at one time: clip frame (-1 = the clip is absent) and its place."""

    frame: int
    scale: float = 0.7
    x: float = 40.25
    y: float = 22.5
    mirrored: bool = False

    def matrix(self):
        """(2, 3) clip pixels to screen pixels, corners of pixels at whole numbers."""
        a = -self.scale if self.mirrored else self.scale
        x = self.x + (self.scale * CLIP_PX[0] if self.mirrored else 0)
        return np.array([[a, 0, x], [0, self.scale, self.y]])


@dataclass
class Scene:
    """A recording to be made.

    Attributes:
        moments: One for every frame.
        times_s: Recording time of every frame.
        window: x0, y0, x1, y1 within which the clip shows; None = the screen.
        over: Drawn on every finished screen: `over(screen, index)`.
        crf: Compression.
        size: Of the file, where the screen is scaled.
    """

    moments: list
    times_s: np.ndarray | None = None
    window: tuple | None = None
    over: list = field(default_factory=list)
    crf: int = 18
    size: tuple = SCREEN_PX

    def times(self):
        return np.arange(len(self.moments)) / SCREEN_FPS if self.times_s is None else self.times_s


def talk(first=4, **where):
    """The usual three seconds: rest, play, rest, drag forth and back, rest, slow play."""
    frames = [first] * 12
    frames += [first + round(k * CLIP_FPS / SCREEN_FPS) for k in range(1, 26)]
    at = frames[-1]
    frames += [at] * 15
    frames += [at + k for k in (2, 5, 9, 14, 18, 20, 21, 19, 15, 9, 2, -3, -6)]
    at += -6
    frames += [at] * 15
    frames += [at + (k * CLIP_FPS) // (2 * SCREEN_FPS) for k in range(1, 25)]
    return [Moment(f, **where) for f in frames]


def screens(scene, clip):
    """Every picture of the recording, (h, w, 3) uint8."""
    desk = np.full((*SCREEN_PX[::-1], 3), (96, 84, 70), np.uint8)
    x0, y0, x1, y1 = scene.window or (0, 0, *SCREEN_PX)
    for index, moment in enumerate(scene.moments):
        screen = desk.copy()
        if moment.frame >= 0:
            matrix = moment.matrix()
            # pixel centres lie at + 0.5 in both
            matrix[:, 2] += 0.5 * matrix[:, :2].sum(axis=1) - 0.5
            part = cv2.warpAffine(clip[moment.frame], matrix, SCREEN_PX, flags=cv2.INTER_LINEAR)
            lies = cv2.warpAffine(np.full(CLIP_PX[::-1], 255, np.uint8), matrix, SCREEN_PX)
            inside = np.zeros(SCREEN_PX[::-1], bool)
            inside[y0:y1, x0:x1] = lies[y0:y1, x0:x1] > 127
            screen[inside] = part[inside]
        for draw in scene.over:
            screen = draw(screen, index)
        yield screen


def write(path: Path, images, times_s, crf=18, size=SCREEN_PX):
    """H.264 with every frame at its own time."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libx264", rate=30)
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        stream.options = {"crf": str(crf), "preset": "veryfast"}
        stream.codec_context.time_base = TICK
        for time_s, image in zip(times_s, images, strict=True):
            if (image.shape[1], image.shape[0]) != tuple(size):
                image = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
            frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(image), format="bgr24")
            frame.pts, frame.time_base = round(float(time_s) / TICK), TICK
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


@dataclass
class Outcome:
    """What was found against what is true; one entry for every frame of the recording."""

    found: object
    true: np.ndarray
    said: np.ndarray
    corner_px: np.ndarray

    def exact(self):
        """Share of the frames with the clip on screen that are on the exact clip frame."""
        return float((self.said == self.true)[self.true >= 0].mean())

    def presence(self):
        """Precision and recall."""
        there, claimed = self.true >= 0, self.said >= 0
        both = float((there & claimed).sum())
        return both / max(claimed.sum(), 1), both / max(there.sum(), 1)


def run(folder, scene, clip, clip_path=None):
    """Make the recording, follow the clip through it, and compare.

    `corner_px` is the largest error at the clip picture's corners, screen pixels; NaN = absent.
    """
    times = scene.times()
    path = write(folder / "recording.mp4", screens(scene, clip), times, scene.crf, scene.size)
    if clip_path is None:
        clip_path = write(folder / "clip.mp4", clip, np.arange(len(clip)) / CLIP_FPS, 12)
    video = probe(clip_path)
    found = follow(path, probe(path), clip_path, video, progress=Quiet())
    assert len(found.recording_s) == len(times)
    np.testing.assert_allclose(found.recording_s, times - times[0], atol=1e-3)
    said = np.where(np.isnan(found.clip_s), -1, np.rint(np.nan_to_num(found.clip_s) * CLIP_FPS))
    true = np.array([m.frame for m in scene.moments])
    corner = np.full(len(true), np.nan)
    grown = scene.size[0] / SCREEN_PX[0]
    width, height = video.video.width_px, video.video.height_px
    ends = np.array([[x, y, 1.0] for x in (0, 1) for y in (0, 1)])
    for i in np.flatnonzero((true >= 0) & (said >= 0)):
        mine = found.clip_to_screen[found.placement[i]] @ (ends * [width, height, 1]).T
        due = scene.moments[i].matrix() @ (ends * [*CLIP_PX, 1]).T * grown
        corner[i] = np.hypot(*(mine - due)).max()
    return Outcome(found, true, said.astype(int), corner)
