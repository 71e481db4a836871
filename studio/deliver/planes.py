"""A decoder's frames as planes that may be drawn into."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from typing import Literal

import av
import cv2
import numpy as np

from studio.model.arrays import Array

Matrix = Literal["bt709", "bt601"]
Planes = tuple[Array, Array, Array]

_BT709, _BT470BG, _SMPTE170M = 1, 5, 6
"""Matrix codes of ITU-T H.273 table 4."""
ROW_STEP = 24
NOISE = 2
"""Levels out of 255 by which a still picture trembles as a recorder's encoder refines it."""
TREMBLE, FEW = 24, 1 / 2000
"""A few samples, this share of the picture, may swing by so many levels: edges do that which an
encoder codes anew with every frame. A line, a letter or a pointer differs by 60 and more, and what
changes slowly passes the share or the levels in the end, since the frame held does not move on."""
HD_HEIGHT = 720
"""Players take an untagged picture of this height or more for BT.709, a smaller one for BT.601."""


@dataclass(frozen=True, slots=True)
class Coding:
    """How a source's colours are coded, carried through untouched and stated in the program.

    Turning BT.601 into BT.709 would cost more than all the drawing; a true tag costs nothing.
    """

    matrix: Matrix

    @property
    def tag(self) -> int:
        """H.273 code of the matrix."""
        return _BT709 if self.matrix == "bt709" else _SMPTE170M


def coding_of(frame: av.VideoFrame) -> Coding:
    """The coding of a frame that is ready for display (yuv420p, upright)."""
    space = int(frame.colorspace or 2)
    if space in (_BT470BG, _SMPTE170M):
        return Coding("bt601")
    if space == _BT709 or frame.height >= HD_HEIGHT:
        return Coding("bt709")
    return Coding("bt601")


def planes_of(frame: av.VideoFrame) -> Planes:
    """Writable views of a yuv420p frame: Y (h, w), U and V (ceil(h/2), ceil(w/2)), uint8."""
    y, u, v = (
        np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)[
            : plane.height, : plane.width
        ]
        for plane in frame.planes
    )
    return y, u, v


def same(one: Planes, other: Planes, number: int) -> bool:
    """Whether two pictures of one size differ by no more than an encoder's noise.

    A screen recording that stands still decodes to such pictures, second after second. Nothing on a
    screen is a single row high after an encoder, so every second row is looked at: a quarter of
    them in each of four pictures that follow one another by `number`.
    """
    pairs = list(zip(one, other, strict=True))
    # a few rows tell most differences apart at a fraction of the cost
    if any(cv2.norm(a[::ROW_STEP], b[::ROW_STEP], cv2.NORM_INF) > TREMBLE for a, b in pairs):
        return False
    swinging = 0
    rows = slice(number % 4 * 2, None, 8)
    for a, b in pairs:
        off = cv2.absdiff(a[rows], b[rows])
        most = off.max()
        if most > TREMBLE:
            return False
        if most > NOISE:
            swinging += 8 * int(np.count_nonzero(off > NOISE))
    return swinging <= FEW * pairs[0][0].size


class Pool:
    """Frames that are used again once nobody needs them, so that memory stays flat.

    `copy` hands out a frame with one holder, `keep` adds a holder, `give_back` takes one away; safe
    to call from several threads.
    """

    def __init__(self, width_px: int, height_px: int) -> None:
        self._size = (width_px, height_px)
        self._free: list[av.VideoFrame] = []
        self._holders: dict[int, int] = {}
        self._lock = threading.Lock()

    def copy(self, source: av.VideoFrame) -> av.VideoFrame:
        """A frame of our own with the content of `source`: decoders still refer to theirs."""
        with self._lock:
            frame = self._free.pop() if self._free else av.VideoFrame(*self._size, "yuv420p")
            self._holders[id(frame)] = 1
        for own, theirs in zip(planes_of(frame), planes_of(source), strict=True):
            np.copyto(own, theirs)
        return frame

    def keep(self, frame: av.VideoFrame) -> av.VideoFrame:
        """The same frame, with one more holder."""
        with self._lock:
            self._holders[id(frame)] += 1
        return frame

    def give_back(self, frame: av.VideoFrame) -> None:
        """One holder is done; the last one frees the frame to be written over."""
        with self._lock:
            self._holders[id(frame)] -= 1
            if not self._holders[id(frame)]:
                self._free.append(frame)


def recoded(planes: Planes, source: Coding, wanted: Coding) -> Planes:
    """Planes in another matrix (limited range); the same planes where there is nothing to do.

    Y'CbCr of one matrix is a linear function of another's whose greys stay where they are: luma
    takes a share of chroma, chroma is mixed (ITU-R BT.601-7 and BT.709-6, section 3).
    """
    if source.matrix == wanted.matrix:
        return planes
    to_rgb = np.linalg.inv(_rows(source.matrix))
    mix = _rows(wanted.matrix) @ to_rgb
    y, u, v = planes
    cb, cr = (plane.astype(np.float32) - 128 for plane in (u, v))
    size = (y.shape[1], y.shape[0])
    wide = [cv2.resize(plane, size, interpolation=cv2.INTER_LINEAR) for plane in (cb, cr)]
    luma = y + mix[0, 1] * wide[0] + mix[0, 2] * wide[1]
    blue = 128 + mix[1, 1] * cb + mix[1, 2] * cr
    red = 128 + mix[2, 1] * cb + mix[2, 2] * cr
    made = [np.clip(np.rint(plane), 0, 255).astype(np.uint8) for plane in (luma, blue, red)]
    return made[0], made[1], made[2]


def _rows(matrix: Matrix) -> Array:
    """R'G'B' 0-255 to Y, Cb, Cr steps of limited range, without offsets."""
    kr, kb = {"bt709": (0.2126, 0.0722), "bt601": (0.299, 0.114)}[matrix]
    luma = np.array([kr, 1 - kr - kb, kb])
    blue = (np.array([0.0, 0.0, 1.0]) - luma) / (2 * (1 - kb))
    red = (np.array([1.0, 0.0, 0.0]) - luma) / (2 * (1 - kr))
    return np.stack([luma * 219 / 255, blue * 224 / 255, red * 224 / 255])


def from_bgr(image: Array, coding: Coding) -> av.VideoFrame:
    """A (h, w, 3) BGR picture as a yuv420p frame in the program's coding."""
    frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(image), format="bgr24")
    space = "ITU709" if coding.matrix == "bt709" else "ITU601"
    return frame.reformat(format="yuv420p", dst_colorspace=space)
