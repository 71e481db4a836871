"""A file's frames, in order, upright and with square pixels, each with its exact time.

Decoding runs forward only: a container's seek is a hint, never an address (docs/time.md).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import av.filter
import numpy as np

from studio.errors import MediaError
from studio.ingest.hdr import table_file
from studio.ingest.probe import opened, picture_stream
from studio.model.arrays import Array
from studio.model.media import VideoStream


@dataclass(frozen=True, slots=True)
class Frame:
    """One frame.

    Attributes:
        index: From 0, in presentation order.
        time_s: pts in seconds since the first frame of the file (the file's own clock).
        image: (H, W, 3) uint8 BGR or (H, W) uint8 grey, displayed orientation.
    """

    index: int
    time_s: Fraction
    image: Array


def read_frames(
    path: Path,
    video: VideoStream,
    *,
    size_px: tuple[int, int] | None = None,
    grey: bool = False,
    start_s: Fraction = Fraction(0),
    threads: int = 2,
) -> Iterator[Frame]:
    """Decode forward and yield every frame from `start_s` on.

    Args:
        path: The file.
        video: What `probe` said of it.
        size_px: (width, height) to scale to; None = as displayed.
        grey: Luma only, full range.
        start_s: First time wanted, seconds since the first frame; earlier frames are skipped.
        threads: Decoder threads.

    Raises:
        MediaError: Cannot be read, or not a single frame comes out of it.
    """
    size = size_px or (video.width_px, video.height_px)
    index = -1
    for raw in decode(path, start_s=start_s, video=video, threads=threads):
        index += 1
        if index == 0:
            graph = Upright(video, size, "gray" if grey else "bgr24")
        yield Frame(index, time_of(raw, video), graph(raw))
    if index < 0:
        raise MediaError(f"{path}: no frame can be decoded.", "Export or send it again.")


def decode(
    path: Path, *, video: VideoStream, start_s: Fraction = Fraction(0), threads: int = 2
) -> Iterator[av.VideoFrame]:
    """Decoded frames as stored (not turned), strictly rising in time, from `start_s` on.

    A broken packet is passed over, as players do. Raises: MediaError.
    """
    with opened(path) as container:
        stream = picture_stream(container)
        if stream is None:
            raise MediaError(f"{path}: holds no picture.", "Name a video file.")
        stream.thread_type = "AUTO"
        stream.codec_context.thread_count = threads
        if start_s > 0:
            ticks = int((start_s + video.start_s) / video.time_base)
            container.seek(ticks, stream=stream, backward=True)
        last: int | None = None
        for packet in container.demux(stream):
            try:
                frames = packet.decode()
            except av.error.InvalidDataError:
                continue
            for frame in frames:
                if frame.pts is None or (last is not None and frame.pts <= last):
                    continue
                if start_s > 0 and time_of(frame, video) < start_s:
                    continue
                last = frame.pts
                yield frame


def time_of(frame: av.VideoFrame, video: VideoStream) -> Fraction:
    """Seconds since the file's first frame."""
    if frame.pts is None:
        raise ValueError("frame without a time")
    return frame.pts * video.time_base - video.start_s


class Upright:
    """Decoded frames to arrays: turned, square pixels, scaled, HDR mapped to BT.709.

    The filter graph is made from the first frame, and again should the stored size change.
    """

    def __init__(self, video: VideoStream, size_px: tuple[int, int], pixel_format: str) -> None:
        self._video = video
        self._size = size_px
        self._format = pixel_format
        self._graph: av.filter.Graph | None = None
        self._shape: tuple[int, int, str] | None = None

    def frame(self, frame: av.VideoFrame) -> av.VideoFrame:
        """The frame for display, in this object's pixel format."""
        w, h = self._size
        video = self._video
        plain = video.transfer == "sdr" and not video.rotation_deg and not video.mirrored
        if plain:
            return frame.reformat(width=w, height=h, format=self._format, interpolation="AREA")
        shape = (frame.width, frame.height, frame.format.name)
        if self._graph is None or shape != self._shape:
            self._graph, self._shape = self._make(frame), shape
        self._graph.push(frame)
        out = self._graph.pull()
        assert isinstance(out, av.VideoFrame)
        out.pts, out.time_base = frame.pts, frame.time_base
        return out

    def __call__(self, frame: av.VideoFrame) -> Array:
        """The frame for display as a contiguous array."""
        return np.ascontiguousarray(self.frame(frame).to_ndarray())

    def _make(self, frame: av.VideoFrame) -> av.filter.Graph:
        steps: list[tuple[str, str]] = []
        if self._video.transfer != "sdr":
            steps += [("format", "gbrp10le"), ("lut3d", f"file={table_file(self._video.transfer)}")]
        turn = {90: ["clock"], 180: ["clock", "clock"], 270: ["cclock"]}
        steps += [("transpose", way) for way in turn.get(self._video.rotation_deg, [])]
        if self._video.mirrored:
            steps.append(("hflip", ""))
        w, h = self._size
        steps += [("scale", f"{w}:{h}:flags=area:out_color_matrix=bt709"), ("format", self._format)]
        graph = av.filter.Graph()
        source = graph.add_buffer(
            width=frame.width,
            height=frame.height,
            format=frame.format,
            time_base=self._video.time_base,
        )
        nodes = [source]
        nodes += [graph.add(name, args) for name, args in steps]
        nodes.append(graph.add("buffersink"))
        for before, after in itertools.pairwise(nodes):
            before.link_to(after)
        graph.configure()
        return graph
