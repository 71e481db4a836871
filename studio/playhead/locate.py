"""Finding the clip's picture anywhere on a screen, from scratch.

SIFT matches (Lowe 2004) vote for a scale and a shift, plain or mirrored; what most agree on is one
copy of the picture, its matches are taken away, and the next copy is sought.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from studio.model.arrays import Array
from studio.playhead.geometry import Place
from studio.playhead.library import Library

CLIP_POINTS, SCREEN_POINTS = 700, 1600
"""SIFT points kept of a clip frame and of a screen."""
KEY_FRAMES = 3
"""Clip frames looked for: a still camera needs one, a moving one some more."""
RATIO = 0.85
"""Lowe's ratio test; looser than his 0.8, since the vote that follows sorts the matches."""
FEWEST = 10
"""Matches that must agree on a copy."""
TRIES = 400
"""Pairs drawn per vote: with one match in ten right, a right pair is missed once in fifty."""
COPIES = 4
"""Copies of the picture looked for on one screen."""


@dataclass(frozen=True, slots=True)
class _Points:
    xy: Array
    size: Array
    kind: Array


class Finder:
    """Finds the copies of one clip's picture on screens."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._sift = cv2.SIFT.create(nfeatures=CLIP_POINTS, contrastThreshold=0.02)
        self._screen_sift = cv2.SIFT.create(nfeatures=SCREEN_POINTS, contrastThreshold=0.02)
        self._matcher = cv2.BFMatcher(cv2.NORM_L2)
        step = library.grid.step()
        last = len(library.frames) - 1
        self._sides: list[tuple[bool, _Points]] = []
        for index in sorted({round(last * k / KEY_FRAMES) for k in range(KEY_FRAMES)}):
            image = library.frames[index]
            self._sides.append((False, _points(self._sift, image, step)))
            flipped = _points(self._sift, image[:, ::-1].copy(), step)
            flipped.xy[:, 0] = library.grid.clip_px[0] - flipped.xy[:, 0]
            self._sides.append((True, flipped))

    def copies(self, screen: Array, shrink: float) -> list[Place]:
        """Every copy found, best supported first.

        Args:
            screen: (H, W) uint8, reduced by `shrink`.
            shrink: Screen pixels per pixel of `screen`.
        """
        there = _points(self._screen_sift, screen, (shrink, shrink))
        if len(there.xy) < FEWEST:
            return []
        found: list[tuple[int, Place]] = []
        for mirrored, clip in self._sides:
            if len(clip.xy) >= FEWEST:
                found += self._of_one(there, clip, mirrored, shrink)
        found.sort(key=lambda pair: -pair[0])
        kept: list[Place] = []
        corners = np.array([[0.0, 0.0], [float(v) for v in self._library.grid.clip_px]])
        for _, place in found:
            reach = 0.05 * abs(place.ax) * self._library.grid.clip_px[0]
            if all(place.apart(other, corners) > reach for other in kept):
                kept.append(place)
        return kept

    def _of_one(
        self, there: _Points, clip: _Points, mirrored: bool, shrink: float
    ) -> list[tuple[int, Place]]:
        pairs = self._matcher.knnMatch(there.kind, clip.kind, k=2)
        good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < RATIO * p[1].distance]
        screen_at = np.array([m.queryIdx for m in good], int)
        clip_at = np.array([m.trainIdx for m in good], int)
        found = []
        for _ in range(COPIES):
            if len(good) < FEWEST or len(screen_at) < FEWEST:
                break
            sign = -1.0 if mirrored else 1.0
            agree, place = _vote(
                clip.xy[clip_at], there.xy[screen_at],
                there.size[screen_at] / clip.size[clip_at], sign, shrink,
            )  # fmt: skip
            if place is None or agree.sum() < FEWEST:
                break
            found.append((int(agree.sum()), place))
            screen_at, clip_at = screen_at[~agree], clip_at[~agree]
        return found


def _points(sift: cv2.SIFT, image: Array, step: tuple[float, float]) -> _Points:
    keys, kinds = sift.detectAndCompute(image, None)  # type: ignore[call-overload]
    if kinds is None:
        return _Points(np.empty((0, 2)), np.empty(0), np.empty((0, 128), np.float32))
    xy = (np.array([k.pt for k in keys]) + 0.5) * step
    return _Points(xy, np.array([k.size for k in keys]) * step[0], kinds)


def _vote(
    clip: Array, screen: Array, ratio: Array, sign: float, shrink: float
) -> tuple[Array, Place | None]:
    """The scale and shift most matches agree on; which do (n,) bool, and the place."""
    rng = np.random.default_rng(4)  # the same screen always gives the same answer
    first = rng.integers(0, len(clip), TRIES)
    second = rng.integers(0, len(clip), TRIES)
    across = np.hypot(*(clip[first] - clip[second]).T)
    span = np.hypot(*(screen[first] - screen[second]).T)
    scale = np.where(across > 1, span / np.maximum(across, 1), 0)
    tall = np.array([sign, 1.0])
    fair = (across > 20) & (scale > 0.03) & (scale < 20)
    fair &= np.abs(np.log(np.maximum(scale, 1e-6) / ratio[first])) < 0.5
    # a single match also votes, with the scale its own size tells: it finds small copies
    scales = np.concatenate([scale[fair], ratio[first]])
    heads = np.concatenate([first[fair], first])
    shift = screen[heads] - scales[:, None] * clip[heads] * tall
    guess = scales[:, None, None] * clip[None] * tall + shift[:, None]
    off = np.abs(guess - screen[None]).max(axis=2)
    counts = (off < 3 * shrink + 0.01 * scales[:, None] * float(np.ptp(clip))).sum(axis=1)
    best = int(np.argmax(counts))
    agree = off[best] < 3 * shrink + 0.01 * scales[best] * float(np.ptp(clip))
    for _ in range(3):
        if agree.sum() < 4:
            return agree, None
        place = _fit(clip[agree], screen[agree], sign)
        if place is None:
            return agree, None
        size = abs(place.ax)
        gap = np.abs(clip * [place.ax, place.ay] + [place.tx, place.ty] - screen).max(axis=1)
        agree = (gap < 2.5 * shrink) & (np.abs(np.log(ratio / size)) < 0.7)
    return agree, place


def _fit(clip: Array, screen: Array, sign: float) -> Place | None:
    """Least squares for one scale and two shifts."""
    c, s = clip * [sign, 1.0], screen
    cm, sm = c.mean(axis=0), s.mean(axis=0)
    below = float(((c - cm) ** 2).sum())
    if below < 100:
        return None
    scale = float(((c - cm) * (s - sm)).sum()) / below
    if not 0.03 < scale < 20:
        return None
    tx, ty = sm - scale * cm
    return Place(sign * scale, scale, float(tx), float(ty))
