"""What goes wrong with a clip, done to one whose truth is known: picture by picture."""

import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from benchmarks._mannequin import Walker

Array = np.ndarray


@dataclass(frozen=True)
class Shot:
    """A clip in memory: what is shown, and what is true of it.

    Attributes:
        images: RGB pictures.
        fps: Of the file to be written.
        source: For each picture, the frame of the kit's clip whose body it shows.
        catches: Frame numbers (fractions allowed) in `images`; `finishes` likewise.
        facing: "left" or "right".
        yaw: Degrees, as the truth has it.
        factor: Clip seconds per real second.
        crf: Of the encoder.
        mask: The athlete's silhouette for picture i, (H, W) bool.
    """

    images: list[Array]
    fps: float
    source: Array
    catches: tuple[float, ...]
    finishes: tuple[float, ...]
    facing: str
    yaw: float
    factor: float = 1.0
    crf: int = 20
    mask: Callable[[int], Array] | None = field(default=None, compare=False)


def mirror(shot: Shot, _: dict) -> Shot:
    """Facing the other way."""
    facing = "left" if shot.facing == "right" else "right"
    return replace(shot, images=[np.ascontiguousarray(i[:, ::-1]) for i in shot.images],
                   facing=facing)  # fmt: skip


def dim(shot: Shot, _: dict) -> Shot:
    """A dark room: a third of the light, sensor noise, and a messenger's compression."""
    rng = np.random.default_rng(1)
    out = []
    for image in shot.images:
        noise = rng.normal(0, 9, image.shape).astype(np.float32)
        out.append(np.clip(image * 0.35 + noise, 0, 255).astype(np.uint8))
    return replace(shot, images=out, crf=34)


def small(shot: Shot, _: dict) -> Shot:
    """Filmed from too far away: everything at 45 %."""
    h, w = shot.images[0].shape[:2]
    grow = np.array([[0.45, 0, 0.275 * w], [0, 0.45, 0.3 * h]])
    return _warped(shot, [grow] * len(shot.images))


def handheld(shot: Shot, _: dict) -> Shot:
    """Held in the hand: sway of 1.5 % of the width and 1.5 degrees, and a tremble on top."""
    return _warped(shot, _sway(shot, 0.015, 1.5))


def shaken(shot: Shot, _: dict) -> Shot:
    """Filmed while walking along: twice to three times that."""
    return _warped(shot, _sway(shot, 0.035, 4.0))


def tilted(shot: Shot, _: dict) -> Shot:
    """The phone leans by 5 degrees."""
    h, w = shot.images[0].shape[:2]
    return _warped(shot, [cv2.getRotationMatrix2D((w / 2, h / 2), 5, 1.0)] * len(shot.images))


def squeezed(shot: Shot, _: dict) -> Shot:
    """Lengths along the boat shrunk as at 25 degrees off square; nothing else of such a view."""
    w = shot.images[0].shape[1]
    c = np.cos(np.radians(25))
    return _warped(shot, [np.array([[c, 0, (1 - c) * w / 2], [0, 1.0, 0]])] * len(shot.images))


def feet_leave(shot: Shot, truth: dict) -> Shot:
    """The camera looks up for a third of the clip and loses the feet."""
    h = shot.images[0].shape[0]
    low = min(p["p2d"]["ankle"][1] for p in truth["per_frame"])
    return _warped(shot, _pan(shot, 0.0, h - low + 15))


def hands_leave(shot: Shot, truth: dict) -> Shot:
    """The camera looks back for a third of the clip and loses the hands at the catch."""
    w = shot.images[0].shape[1]
    x = np.array([p["p2d"]["handle"][0] for p in truth["per_frame"]])
    edge = np.percentile(x, 60) if shot.facing == "right" else np.percentile(x, 40)
    return _warped(shot, _pan(shot, w - edge if shot.facing == "right" else -edge, 0.0))


def no_feet(shot: Shot, truth: dict) -> Shot:
    """The feet are never in the picture."""
    low = round(min(p["p2d"]["ankle"][1] for p in truth["per_frame"]) - 10) // 2 * 2
    return replace(shot, images=[np.ascontiguousarray(i[:low]) for i in shot.images])


def no_hands(shot: Shot, truth: dict) -> Shot:
    """The hands are out of the picture about every catch."""
    x = np.array([p["p2d"]["handle"][0] for p in truth["per_frame"]])
    if shot.facing == "right":
        edge = round(np.percentile(x, 75)) // 2 * 2
        return replace(shot, images=[np.ascontiguousarray(i[:, :edge]) for i in shot.images])
    edge = round(np.percentile(x, 25)) // 2 * 2
    return replace(shot, images=[np.ascontiguousarray(i[:, edge:]) for i in shot.images])


def rower_behind(shot: Shot, _: dict) -> Shot:
    """Somebody else rows behind, smaller, out of time, facing the other way."""
    out = []
    count = len(shot.images)
    for i, image in enumerate(shot.images):
        j = (2 * i + 37) % (2 * count)
        j = j if j < count else 2 * count - 1 - j
        other, cut = shot.images[j][:, ::-1], shot.mask(j)[:, ::-1]
        size = (image.shape[1] // 2, image.shape[0] // 2)
        patch = cv2.resize(other, size, interpolation=cv2.INTER_AREA)
        matte = cv2.resize(cut.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        out.append(_behind(image, shot.mask(i), patch, matte, (30, 40)))
    return replace(shot, images=out)


def passer_by(shot: Shot, _: dict) -> Shot:
    """Somebody walks past behind the athlete, as tall as the picture."""
    h, w = shot.images[0].shape[:2]
    out = []
    for i, image in enumerate(shot.images):
        share = i / len(shot.images)
        patch, matte = Walker().drawn((int(0.5 * h), int(0.85 * h)), 6 * np.pi * share)
        x = round(-0.3 * w + 1.3 * w * share)
        out.append(_behind(image, shot.mask(i), patch, matte, (x, int(0.08 * h))))
    return replace(shot, images=out)


def pause_first(shot: Shot, _: dict) -> Shot:
    """The clip starts before the athlete does: 1.5 s of sitting still."""
    still = round(1.5 * shot.fps)
    source = np.concatenate([np.zeros(still, int), np.arange(len(shot.images))])
    catches, finishes = ([t + still for t in ends] for ends in (shot.catches, shot.finishes))
    return _resampled(shot, source, catches, finishes)


def part_strokes(shot: Shot, _: dict) -> Shot:
    """Two half strokes (arms and body only) out of the first finish, then whole ones."""
    finish = round(shot.finishes[0])
    after = [c for c in shot.catches if c > finish]
    turn = finish + round(0.5 * (after[0] - finish))
    way = np.arange(finish, turn + 1)
    bit = np.concatenate([way, way[-2:0:-1]])
    lead = np.concatenate([bit, bit])
    source = np.concatenate([lead, np.arange(finish, len(shot.images))])
    half, shift = turn - finish, len(lead) - finish
    catches = [half, len(bit) + half, *(c + shift for c in after)]
    finishes = [len(bit), *(f + shift for f in shot.finishes if f >= finish)]
    return _resampled(shot, source, catches, finishes)


def _resampled(shot: Shot, source: Array, catches: list[float], finishes: list[float]) -> Shot:
    rng = np.random.default_rng(2)
    images = [np.clip(shot.images[i] + rng.normal(0, 2, shot.images[i].shape), 0, 255)
              .astype(np.uint8) for i in source]  # fmt: skip
    return replace(shot, images=images, source=shot.source[source], catches=tuple(catches),
                   finishes=tuple(finishes), mask=None)  # fmt: skip


def every(step: float) -> Callable[[Shot, dict], Shot]:
    """Another camera: each `step`-th picture of a clip captured at 120 fps, in real time."""

    def change(shot: Shot, truth: dict) -> Shot:
        at = np.arange(0, len(shot.images) - 1 + 1e-9, step)
        low, share = np.floor(at).astype(int), at % 1
        high = np.minimum(low + 1, len(shot.images) - 1)
        images = [
            cv2.addWeighted(shot.images[a], 1 - s, shot.images[b], s, 0) if s else shot.images[a]
            for a, b, s in zip(low, high, share, strict=True)
        ]
        return replace(shot, images=images, fps=truth["capture_fps"] / step,
                       source=shot.source[low], factor=1.0, mask=None,
                       catches=tuple(c / step for c in shot.catches),
                       finishes=tuple(f / step for f in shot.finishes))  # fmt: skip

    return change


CHANGES: dict[str, Callable[[Shot, dict], Shot]] = {
    f.__name__: f
    for f in (mirror, dim, small, handheld, shaken, tilted, squeezed, feet_leave, hands_leave,
              no_feet, no_hands, rower_behind, passer_by, pause_first, part_strokes)
}  # fmt: skip
RATES = {f"at_{fps}_fps": every(120 / fps) for fps in (24, 60, 120, 240)}
"""For clips captured at 120 frames a second."""


def _warped(shot: Shot, ways: list[Array]) -> Shot:
    h, w = shot.images[0].shape[:2]
    images = [cv2.warpAffine(i, np.asarray(m, float), (w, h), flags=cv2.INTER_LINEAR,
                             borderMode=cv2.BORDER_REPLICATE)
              for i, m in zip(shot.images, ways, strict=True)]  # fmt: skip
    return replace(shot, images=images, mask=None)


def _sway(shot: Shot, shift: float, turn: float) -> list[Array]:
    h, w = shot.images[0].shape[:2]
    rng = np.random.default_rng(zlib.crc32(f"{len(shot.images)}".encode()))
    x, y, angle = (_wander(rng, len(shot.images)) for _ in range(3))
    ways = []
    for i in range(len(shot.images)):
        way = cv2.getRotationMatrix2D((w / 2, h / 2), turn * angle[i], 1.06)
        way[:, 2] += shift * w * np.array([x[i], y[i]]) + rng.normal(0, 0.8, 2)
        ways.append(way)
    return ways


def _wander(rng: np.random.Generator, count: int) -> Array:
    """A slow random curve of standard deviation 1/2."""
    knots = rng.normal(0, 0.5, max(4, count // 12))
    return np.interp(np.arange(count), np.linspace(0, count - 1, len(knots)), knots)


def _pan(shot: Shot, dx: float, dy: float) -> list[Array]:
    count = len(shot.images)
    i = np.arange(count)
    share = np.interp(i, [0.33 * count, 0.40 * count, 0.62 * count, 0.69 * count], [0, 1, 1, 0])
    return [np.array([[1.0, 0, s * dx], [0, 1.0, s * dy]]) for s in share]


def _behind(image: Array, athlete: Array, patch: Array, matte: Array, at: tuple[int, int]) -> Array:
    """The picture with a patch pasted where the athlete is not."""
    out = image.copy()
    h, w = image.shape[:2]
    x0, y0 = max(at[0], 0), max(at[1], 0)
    x1, y1 = min(at[0] + patch.shape[1], w), min(at[1] + patch.shape[0], h)
    if x1 <= x0 or y1 <= y0:
        return out
    part = (slice(y0 - at[1], y1 - at[1]), slice(x0 - at[0], x1 - at[0]))
    share = (matte[part] * ~athlete[y0:y1, x0:x1])[..., None]
    out[y0:y1, x0:x1] = (share * patch[part] + (1 - share) * out[y0:y1, x0:x1]).astype(np.uint8)
    return out


def chunks(shot: Shot) -> Iterator[Array]:
    """Pictures of even size, as encoders need them."""
    for image in shot.images:
        h, w = image.shape[:2]
        yield np.ascontiguousarray(image[: h // 2 * 2, : w // 2 * 2])
