"""A talk-over recording made from a clip by a script drawn at random, with exact truth.

Played, slowed, paused, dragged, stepped, sought and looped; letterboxed, mirrored or not, zoomed
into, its brightness changed; with lines drawn over it, a mouse, a camera window in a corner, a
small copy beside it, and screens without it before and after. Frames come at uneven times.
"""

from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from benchmarks.playhead import Truth
from studio.ingest.frames import read_frames
from studio.ingest.probe import probe

SCREEN_PX = (1920, 1080)
TICK_S = 1 / 30
MS = Fraction(1, 1000)


@dataclass
class Script:
    """What is on screen at every tick, of a clip of `count` frames at `fps`."""

    count: int
    fps: float
    at: float = 0.0
    frame: list[int] = field(default_factory=list)
    state: list[str] = field(default_factory=list)
    zoom: list[float] = field(default_factory=list)
    moving: list[bool] = field(default_factory=list)
    drawn: list[int] = field(default_factory=list)

    def tick(self, frame: float, state: str, *, moving: bool = False, drawn: int = 0) -> None:
        """One tick; the zoom stays what it was."""
        self.frame.append(int(frame))
        self.state.append(state)
        self.zoom.append(self.zoom[-1] if self.zoom else 1.0)
        self.moving.append(moving)
        self.drawn.append(drawn)

    def rest(self, state: str, seconds: float, frame: float | None = None) -> None:
        """One frame for a while."""
        for _ in range(int(seconds / TICK_S)):
            self.tick(self.at if frame is None else frame, state)

    def play(self, rng: np.random.Generator) -> None:
        """On and on; it loops."""
        rate = rng.choice([1.0, 1.0, 0.5, 0.25])
        for _ in range(int(rng.uniform(1.5, 6) / TICK_S)):
            self.at = (self.at + rate * self.fps * TICK_S) % self.count
            self.tick(self.at, "playing")

    def pause(self, rng: np.random.Generator) -> None:
        """Perhaps with lines drawn over it."""
        draws = rng.random() < 1 / 3
        for n in range(int(rng.uniform(0.8, 4) / TICK_S)):
            self.tick(self.at, "paused", drawn=n // 15 if draws else 0)

    def drag(self, rng: np.random.Generator) -> None:
        """Anywhere, slow at both ends."""
        start, goal = self.at, rng.uniform(0, self.count - 1)
        for share in np.linspace(0, np.pi, int(rng.uniform(0.4, 2) / TICK_S)):
            self.tick(start + (goal - start) * (1 - np.cos(share)) / 2, "scrubbing")
        self.at = goal

    def step(self, rng: np.random.Generator) -> None:
        """Frame by frame."""
        way = rng.choice([-1, 1])
        for _ in range(int(rng.integers(2, 7))):
            self.at = float(np.clip(int(self.at) + way, 0, self.count - 1))
            self.rest("paused", rng.uniform(0.25, 0.7))

    def seek(self, rng: np.random.Generator) -> None:
        """To another moment at once."""
        self.at = rng.uniform(0, self.count - 1)
        self.rest("paused", rng.uniform(0.5, 1.5))

    def close_in(self, rng: np.random.Generator) -> None:
        """Half a second of zooming in or out."""
        goal, before = rng.choice([1.0, 1.4, 1.8]), self.zoom[-1]
        for share in np.linspace(0, 1, 15):
            self.tick(self.at, "paused", moving=True)
            self.zoom[-1] = before + (goal - before) * share


def script(count: int, fps: float, seconds: float, rng: np.random.Generator) -> Script:
    """A talk about a clip of `count` frames."""
    made = Script(count, fps)
    acts = [made.play, made.pause, made.drag, made.step, made.seek, made.close_in]
    made.rest("absent", rng.uniform(1, 4), -1)
    while len(made.frame) * TICK_S < seconds - 3:
        act = rng.choice(len(acts), p=[0.32, 0.3, 0.16, 0.08, 0.07, 0.07])
        acts[act](rng)
    made.rest("absent", 2.0, -1)
    return made


def simulate(clip: Path, out: Path, seed: int, seconds: float = 60.0) -> Truth:
    """Write the recording; returns its truth."""
    rng = np.random.default_rng(seed)
    media = probe(clip)
    images = [f.image for f in read_frames(clip, media.video)]
    height, width = images[0].shape[:2]
    fps = float(media.video.frame_rate)
    told = script(len(images), fps, seconds, rng)
    scale = rng.uniform(0.75, 1.25) * 1280 / width
    window = _window(scale, width, height, rng)
    mirrored = rng.random() < 0.25
    gain, lift = rng.uniform(0.8, 1.15), rng.uniform(-15, 15)
    ground = cv2.resize(rng.integers(10, 90, (5, 8, 3), np.uint8), SCREEN_PX,
                        interpolation=cv2.INTER_CUBIC)  # fmt: skip
    lines = rng.uniform(0.2, 0.8, (9, 4)) * np.tile([window[2], window[3]], 2)
    inset = rng.random() < 0.5
    times, rows, affines, places = 0.0, [], [[0.0] * 6], {}
    with av.open(str(out), "w") as container:
        stream = container.add_stream(
            "libx264", rate=30, options={"crf": "24", "preset": "veryfast"}
        )
        stream.width, stream.height = SCREEN_PX
        stream.codec_context.time_base = MS
        for n, frame in enumerate(told.frame):
            screen = ground.copy()
            affine = _affine(scale, window, (width, height), told.zoom[n], mirrored)
            if frame >= 0:
                _show(screen, images[frame], affine, window, gain, lift)
                for line in lines[: told.drawn[n]]:
                    a, b = (line[:2] + window[:2], line[2:] + window[:2])
                    cv2.line(screen, a.astype(int), b.astype(int), (60, 60, 230), 5, cv2.LINE_AA)
            _furniture(screen, images[(n // 3) % len(images)], n, inset=inset)
            key = tuple(affine.ravel().round(4))
            if key not in places:
                places[key] = len(affines)
                affines.append(list(key))
            picture = av.VideoFrame.from_ndarray(screen, format="bgr24").reformat(format="yuv420p")
            picture.pts, picture.time_base = round(times * 1000), MS
            container.mux(stream.encode(picture))
            rows.append((times, frame, places[key] if frame >= 0 else 0))
            times = round(times + TICK_S + float(rng.choice([0, 0, 0.004, -0.004])), 3)
        container.mux(stream.encode(None))
    at = np.array([row[1] for row in rows])
    clip_s = np.array([float(t) for t in (f.time_s for f in read_frames(clip, media.video))])
    return Truth(
        np.array([row[0] for row in rows]), at, np.where(at >= 0, clip_s[at], np.nan), told.state,
        np.array(affines)[[row[2] for row in rows]], np.array(told.moving) & (at >= 0),
        (width, height), fps, SCREEN_PX[0],
    )  # fmt: skip


def _window(scale: float, width: int, height: int, rng: np.random.Generator) -> np.ndarray:
    """x, y, width, height of the player's window."""
    w = min(SCREEN_PX[0] - 40, round(scale * width) + int(rng.choice([0, 0, 120])))
    h = min(SCREEN_PX[1] - 80, round(scale * height))
    x, y = rng.integers(10, SCREEN_PX[0] - w - 9), rng.integers(30, SCREEN_PX[1] - h - 39)
    return np.array([x, y, w, h])


def _affine(scale, window, size_px, zoom, mirrored) -> np.ndarray:
    """Clip to screen, corner-based pixels: fitted into the middle of the window, then zoomed."""
    x, y, w, h = window
    fit = min(scale, h / size_px[1], w / size_px[0]) * zoom
    left, top = x + w / 2 - fit * size_px[0] / 2, y + h / 2 - fit * size_px[1] / 2
    if mirrored:
        return np.array([[-fit, 0, left + fit * size_px[0]], [0, fit, top]])
    return np.array([[fit, 0, left], [0, fit, top]])


def _show(screen, image, affine, window, gain, lift) -> None:
    x, y, w, h = window
    centre = affine.copy()
    centre[:, 2] += centre[:, :2] @ (0.5, 0.5) - 0.5 - (x, y)
    player = np.zeros((h, w, 3), np.uint8)
    flags = cv2.INTER_AREA if abs(affine[0, 0]) < 1 else cv2.INTER_LINEAR
    cv2.warpAffine(image, centre, (w, h), dst=player, flags=flags,
                   borderMode=cv2.BORDER_TRANSPARENT)  # fmt: skip
    screen[y : y + h, x : x + w] = cv2.convertScaleAbs(player, alpha=gain, beta=lift)


def _furniture(screen, thumb, n, *, inset) -> None:
    """A small copy of the clip, the mouse, and the coach's camera."""
    screen[6:96, 6:166] = cv2.resize(thumb, (160, 90))
    cv2.circle(screen, (900 + int(300 * np.sin(n / 40)), 700), 9, (240, 240, 240), -1)
    if inset:
        screen[-260:-20, -340:-20] = 70 + (n * 7) % 20
        cv2.circle(screen, (-180 + SCREEN_PX[0], SCREEN_PX[1] - 130 + int(6 * np.sin(n / 9))), 70,
                   (140, 160, 200), -1)  # fmt: skip
