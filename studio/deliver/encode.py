"""Program frames to H.264, while the next ones are being decoded and drawn."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from queue import SimpleQueue
from typing import Generic, TypeVar

import av

from studio.config import PictureSettings
from studio.deliver.planes import Coding
from studio.errors import OutputError

T = TypeVar("T")
AHEAD = 6
"""Frames a stage may run ahead: enough to ride out a slow one, 19 MB at 1080p."""
KEY_S = 4
"""Seconds between key frames: a player's seek lands within that."""


class Lane(Generic[T]):
    """A queue that holds at most `size` items.

    The standard library's own bounded queue is Python code and costs a tenth of a millisecond a
    frame; two of its unbounded ones, one way for the items and back for the room, cost next to
    nothing.
    """

    def __init__(self, size: int) -> None:
        self._items: SimpleQueue[T] = SimpleQueue()
        self._room: SimpleQueue[None] = SimpleQueue()
        for _ in range(size):
            self._room.put(None)

    def put(self, item: T) -> None:
        """Wait for room, and add an item."""
        self._room.get()
        self._items.put(item)

    def get(self) -> T:
        """Wait for an item, and take it."""
        item = self._items.get()
        self._room.put(None)
        return item

    def waiting(self) -> bool:
        """Whether an item can be taken without waiting."""
        return not self._items.empty()


class Ahead(Generic[T]):
    """Runs an iterator in a thread of its own, a few items ahead."""

    def __init__(self, items: Iterator[T], size: int = AHEAD) -> None:
        self._lane: Lane[tuple[bool, T | BaseException | None]] = Lane(size)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, args=(items,), daemon=True)
        self._thread.start()

    def __iter__(self) -> Iterator[T]:
        while True:
            more, item = self._lane.get()
            if isinstance(item, BaseException):
                raise item
            if not more:
                return
            assert item is not None
            yield item

    def close(self) -> None:
        """Stop the thread, also in the middle of its work."""
        self._stop.set()
        while self._thread.is_alive():
            if self._lane.waiting():
                self._lane.get()
            self._thread.join(0.02)

    def _run(self, items: Iterator[T]) -> None:
        try:
            for item in items:
                self._lane.put((True, item))
                if self._stop.is_set():
                    return
            self._lane.put((False, None))
        except BaseException as error:  # noqa: BLE001 - handed to the thread that iterates
            self._lane.put((False, error))


class Encoder:
    """Writes program frames, at a constant rate, in a thread of its own.

    Use as a context manager; leaving it finishes the file, or drops the work after an error.

    Raises:
        OutputError: From `put` or on leaving: the file cannot be written.
    """

    def __init__(
        self,
        path: Path,
        size_px: tuple[int, int],
        rate: Fraction,
        settings: PictureSettings,
        coding: Coding,
        done: Callable[[av.VideoFrame], None],
    ) -> None:
        self._path = path
        self._container = av.open(str(path), "w", format="mp4")
        options = {
            "preset": settings.preset,
            "crf": str(settings.crf),
            "g": str(round(KEY_S * rate)),
        }
        stream = self._container.add_stream("libx264", rate=rate, options=options)
        stream.width, stream.height = size_px
        stream.pix_fmt = "yuv420p"
        stream.time_base = 1 / rate
        context = stream.codec_context
        context.time_base = 1 / rate
        context.color_range = 1  # H.273: limited
        context.color_primaries = context.color_trc = 1  # BT.709 (and its near twin of BT.601)
        context.colorspace = coding.tag
        self._stream, self._done = stream, done
        self._time_base = 1 / rate
        self._lane: Lane[tuple[int, av.VideoFrame, bool] | None] = Lane(AHEAD)
        self._error: BaseException | None = None
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def put(self, number: int, frame: av.VideoFrame, *, own: bool) -> None:
        """Encode a frame; `own` frames are given back by `done` once nothing needs them."""
        self._check()
        self._lane.put((number, frame, own))

    def __enter__(self) -> Encoder:
        return self

    def __exit__(self, kind: object, *_: object) -> None:
        self._lane.put(None)
        self._thread.join()
        try:
            if self._error is None and kind is None:
                self._container.mux(self._stream.encode(None))
            self._container.close()
        except av.FFmpegError as error:
            self._error = self._error or error
        if kind is None:
            self._check()

    def _check(self) -> None:
        if isinstance(self._error, av.FFmpegError):
            raise OutputError(
                f"{self._path}: cannot be written ({self._error.strerror}).",
                "Free some space on that disk.",
            ) from self._error
        if self._error is not None:
            raise self._error

    def _run(self) -> None:
        while (item := self._lane.get()) is not None:
            number, frame, own = item
            if self._error is not None:
                continue  # keep the lane empty so that nobody waits for ever
            try:
                frame.pts, frame.time_base = number, self._time_base
                frame.pict_type = 0
                self._container.mux(self._stream.encode(frame))
            except BaseException as error:  # noqa: BLE001 - raised in the thread that puts
                self._error = error
            if own:
                self._done(frame)
