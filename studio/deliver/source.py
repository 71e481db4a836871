"""The undrawn program, frame by frame: which source frame each program frame shows."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av

from studio.deliver.planes import Planes, planes_of, same
from studio.edit.screen import SHOWN
from studio.errors import MediaError
from studio.ingest.frames import Upright, decode, time_of
from studio.model.media import MediaFile
from studio.model.plan import EditPlan, Shot

CardMaker = Callable[[Shot, int], av.VideoFrame]
"""A card shot and the frame's number within it, to a yuv420p frame."""


@dataclass(frozen=True, slots=True)
class Picture:
    """One program frame before drawing.

    Attributes:
        number: Of the program frame, from 0.
        frame: yuv420p, the program's size. The decoder may still refer to it: never write to it.
        repeated: The very frame that the program frame before showed.
    """

    number: int
    frame: av.VideoFrame
    repeated: bool


class Reader:
    """Frames of one file by time, decoding forward only; going back starts again."""

    def __init__(self, path: Path, media: MediaFile, size_px: tuple[int, int]) -> None:
        assert media.video is not None
        self._path, self._video = path, media.video
        self._upright = Upright(media.video, size_px, "yuv420p")
        self._frames: Iterator[av.VideoFrame] = iter(())
        self._shown: av.VideoFrame | None = None
        self._raw: av.VideoFrame | None = None
        self._next: av.VideoFrame | None = None
        self._next_s = Fraction(0)
        self._asked: Fraction | None = None

    def at(self, time_s: Fraction) -> av.VideoFrame:
        """The last frame at or before a time (else the first), upright, yuv420p.

        Raises:
            MediaError: Not a single frame can be decoded.
        """
        if self._asked is None or time_s < self._asked:
            self._restart()
        self._asked = time_s
        while self._next is not None and self._next_s <= time_s:
            self._step()
        if self._raw is not None:
            self._shown, self._raw = self._upright.frame(self._raw), None
        if self._shown is None:
            raise MediaError(f"{self._path}: no frame can be decoded.", "Export or send it again.")
        return self._shown

    def close(self) -> None:
        """Let go of the file."""
        self._frames = iter(())
        self._shown = self._raw = self._next = None

    def _restart(self) -> None:
        # drawing and encoding keep the other cores busy: more threads cost 3 % and save no time
        self._frames = decode(self._path, video=self._video, threads=1)
        self._shown = self._raw = self._next = None
        self._step()
        self._step()

    def _step(self) -> None:
        self._raw, self._next = self._next, next(self._frames, None)
        if self._next is not None:
            self._next_s = time_of(self._next, self._video)


def pictures(
    plan: EditPlan,
    recording: tuple[Path, MediaFile] | None,
    clip: tuple[Path, MediaFile] | None,
    card: CardMaker,
) -> Iterator[Picture]:
    """Every program frame in order.

    While a source stands still, its first still frame is given again and again: what then differs
    is its encoder's noise, and a still picture costs nothing to draw and little to encode. Frames
    are held against that first one, so nothing can creep away.

    Raises:
        MediaError: A source cannot be read.
    """
    size = (plan.width_px, plan.height_px)
    main = recording or clip
    readers = {
        kind: Reader(*source, size)
        for kind, source in (("recording", recording), ("hold", main), ("clip", clip))
        if source is not None
    }
    if recording is not None:
        readers["hold"] = readers["recording"]
    elif clip is not None:
        readers["hold"] = readers["clip"]
    number = 0
    late = SHOWN / plan.frame_rate
    before: tuple[av.VideoFrame, Planes] | None = None
    for shot in plan.shots:
        start, stride = shot.source_start_s + late, shot.speed / plan.frame_rate
        for step in range(round(shot.duration_s * plan.frame_rate)):
            if shot.kind == "card":
                frame = card(shot, step)
            else:
                frame = readers[shot.kind].at(start + step * stride)
            repeated = before is not None and _still(frame, *before, number)
            if before is None or not repeated:
                before = (frame, planes_of(frame))
            yield Picture(number, before[0], repeated)
            number += 1
    for reader in readers.values():
        reader.close()


def _still(frame: av.VideoFrame, before: av.VideoFrame, planes: Planes, number: int) -> bool:
    return frame is before or same(planes_of(frame), planes, number)
