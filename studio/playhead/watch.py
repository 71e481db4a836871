"""One forward pass over the recording: what each new picture shows of the clip, and where."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import cv2
import numpy as np

from studio.model.arrays import Array
from studio.playhead.align import corners_of, refine
from studio.playhead.carry import carried
from studio.playhead.compare import COVER_CELL, Comparer, Sight
from studio.playhead.geometry import Place, overlap
from studio.playhead.library import Library
from studio.playhead.locate import Finder
from studio.playhead.search import LEAST_ERROR
from studio.playhead.tone import Tone

LOCATE_PX = 800
"""Width of the screen on which the clip is sought from scratch."""
THERE = 0.4
"""Share of agreeing blocks from which the clip counts as on screen: a camera inset, a menu and
drawings together rarely cover more than half of it, and other pictures agree in under 2 %."""
FEWEST_BLOCKS = 8
SMALLEST = 0.3
"""A copy that spans less than this of the screen's width and height is a thumbnail."""
STILL_PX = 0.75 / 1920
"""A picture that lies within this of its place (share of the screen's width) has not moved."""
STILL_CELLS = 0.2
"""Nor has one that lies within so many cells of the clip's grid: finer it cannot be told."""
RETRY_S, CUT_RETRY_S = 1.0, 0.2
"""Recording time between two searches for a clip that is not there; the shorter one at a cut."""
CUT = 12.0
"""Mean change, levels, of a cut."""
ZOOMED = 1.002
"""A picture larger than its window by this factor is cut by it."""
DIMMED = 3.0
"""A picture that fits so many times worse than usual may have been dimmed, as players do."""
SAME = 2
"""Pictures with no pixel further apart than this are the same picture."""
LOOK_BACK = 45
"""Pictures kept while the clip is lost, to be looked at again once it is found."""


@dataclass(slots=True)
class Rows:
    """What the pass noted: one row for every picture that differs from the one before.

    Attributes:
        row_of_frame: Row of every frame of the recording.
        time_s: Recording time of every frame.
        place: Index into `places` of every row; -1 = the clip is not there.
        frames: Candidate clip frames of every row.
        cost: Their costs.
        noise: Mean square error of the best of them where nothing covers the picture.
        soft_cost: As `cost`, of softened pictures.
        soft_noise: As `noise`, of softened pictures.
        cells: Cells compared.
        agree: Share of agreeing blocks.
        cover: Packed bits of the covered cells; empty = none.
        shift: (4,) remaining offset, NaN = unknown.
        places: Where the clip was, in the order found.
        windows: (4,) x0, y0, x1, y1 on screen within which it then showed; one for every place.
    """

    row_of_frame: list[int] = field(default_factory=list)
    time_s: list[float] = field(default_factory=list)
    place: list[int] = field(default_factory=list)
    frames: list[Array] = field(default_factory=list)
    cost: list[Array] = field(default_factory=list)
    noise: list[float] = field(default_factory=list)
    soft_cost: list[Array] = field(default_factory=list)
    soft_noise: list[float] = field(default_factory=list)
    cells: list[int] = field(default_factory=list)
    agree: list[float] = field(default_factory=list)
    cover: list[bytes] = field(default_factory=list)
    shift: list[Array] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)
    windows: list[Array] = field(default_factory=list)

    def add(self) -> int:
        """A new row, for now without the clip; returns its index."""
        self.place.append(-1)
        self.frames.append(_NOTHING)
        self.cost.append(_NOTHING)
        self.noise.append(0.0)
        self.soft_cost.append(_NOTHING)
        self.soft_noise.append(0.0)
        self.cells.append(0)
        self.agree.append(0.0)
        self.cover.append(b"")
        self.shift.append(_NOWHERE)
        return len(self.place) - 1

    def put(self, row: int, place: int, sight: Sight) -> None:
        """Fill a row."""
        self.place[row] = place
        self.frames[row] = sight.frames
        self.cost[row] = sight.cost.astype(np.float32)
        self.noise[row] = sight.noise
        self.soft_cost[row] = sight.soft_cost.astype(np.float32)
        self.soft_noise[row] = sight.soft_noise
        self.cells[row] = sight.cells
        self.agree[row] = sight.agree
        self.cover[row] = np.packbits(sight.cover).tobytes() if sight.cover.any() else b""
        self.shift[row] = _NOWHERE if sight.shift is None else sight.shift.astype(np.float32)


_NOTHING = np.empty(0, np.int32)
_NOWHERE = np.full(4, np.nan, np.float32)


class Watcher:
    """Feed it the recording's frames in order; then read `rows`."""

    def __init__(self, library: Library, screen_px: tuple[int, int], shrink: float) -> None:
        self.rows = Rows()
        self._library = library
        self._shrink = shrink
        self._screen_px = screen_px
        self._screen = np.array([0.0, 0.0, *screen_px])
        self._seen: Array | None = None
        self._finder = Finder(library)
        self._comparer = Comparer(library)
        self._corners = corners_of(library.grid)
        self._tone = Tone()
        self._usual = np.inf
        self._place = -1
        self._before: Array | None = None
        self._lost: deque[tuple[int, Array]] = deque(maxlen=LOOK_BACK)
        self._tried_s = -np.inf
        self._haunts: list[int] = []

    def cover_shape(self) -> tuple[int, int]:
        """(h, w) of the unpacked cover of a row."""
        w, h = self._library.grid.size_px
        return h // COVER_CELL, w // COVER_CELL

    def feed(self, time_s: float, screen: Array) -> None:
        """Take the next frame: recording time, (H, W) uint8 reduced by `shrink`."""
        rows = self.rows
        rows.time_s.append(time_s)
        change = 255.0
        if self._before is not None:
            if cv2.norm(self._before, screen, cv2.NORM_INF) <= SAME:
                rows.row_of_frame.append(len(rows.place) - 1)
                return
            change = cv2.norm(self._before[::4, ::4], screen[::4, ::4], cv2.NORM_L1)
            change /= screen[::4, ::4].size
        self._before = screen
        row = rows.add()
        rows.row_of_frame.append(row)
        if self._place >= 0:
            if self._follow(row, screen):
                return
            self._place = -1
            self._tried_s = -np.inf
        self._search(row, screen, time_s, change > CUT)

    def _follow(self, row: int, screen: Array) -> bool:
        """The clip where it was, or where it has moved to."""
        place, window = self.rows.places[self._place], self.rows.windows[self._place]
        sight = self._relit(screen, self._look(screen, place, window), window)
        there = sight if sight is not None and _there(sight) else None
        if there is not None and there.drift_px <= self._still(there.place):
            self._keep(row, self._place, there, screen)
            return True
        moved = self._moved(screen, there)
        if moved is not None:
            self._keep(row, self._index(*moved), moved[0], screen)
        elif there is not None:
            self._keep(row, self._place, there, screen)
        return moved is not None or there is not None

    def _relit(self, screen: Array, sight: Sight | None, window: Array) -> Sight | None:
        """The same with its brightness learned afresh, where that explains a sudden misfit."""
        if sight is None or float(sight.cost.min()) < DIMMED * self._usual:
            return sight
        kept, self._tone = self._tone, Tone()
        self._tone.learn(*sight.lesson(self._library), fresh=True)
        again = self._look(screen, sight.place, window)
        if again is not None and float(again.cost.min()) < float(sight.cost.min()) / 2:
            return again
        self._tone = kept
        return sight

    def _still(self, place: Place) -> float:
        cell = abs(place.ax) * self._library.grid.step()[0]
        return max(STILL_PX * self._screen_px[0], 0.35 * self._shrink, STILL_CELLS * cell)

    def _moved(self, screen: Array, there: Sight | None) -> tuple[Sight, Array] | None:
        """The sight, and its window, where the picture has moved to; None when it has not."""
        place, window = self.rows.places[self._place], self.rows.windows[self._place]
        starts = [place] if there is not None else []
        if self._seen is not None:
            gone = carried(self._seen, screen, self._shrink, place, window)
            if (
                there is not None
                and np.isinf(there.drift_px)
                and gone is not None
                and (gone.apart(place, self._corners) <= self._still(place))
            ):
                return None  # how far off cannot be told, but nothing has moved
            starts += [gone] if gone is not None else []
        best = None
        for start in starts:
            then = self._window_at(start, window)
            sight = self._settled(screen, start, then)
            if sight is not None and (best is None or _fits_better(sight, best[0])):
                best = (sight, then)
        if best is None or not _there(best[0]):
            return None
        if best[0].place.apart(place, self._corners) <= self._still(place):
            return None
        return best if there is None or _fits_better(best[0], there) else None

    def _settled(self, screen: Array, place: Place, window: Array) -> Sight | None:
        """Place and clip frame settled together, from a place near by."""
        sight = self._look(screen, place, window)
        grid = self._library.grid
        for _ in range(2):
            if sight is None:
                return None
            template = self._library.frames[sight.best()]
            found = refine(screen, self._shrink, sight.place, template, grid, window)
            if found is None:
                return sight
            before, sight = sight, self._look(screen, found[0], window)
            if sight is not None and sight.best() == before.best():
                break
        return sight

    def _window_at(self, place: Place, had: Array) -> Array:
        """The part of the screen that shows a clip which moved to `place` from within `had`.

        A picture zoomed beyond the window it filled before is cut by that window; one that is not
        larger brings its window along.
        """
        box = place.box(*self._library.grid.clip_px)
        if box[2] - box[0] > ZOOMED * (had[2] - had[0]) or box[3] - box[1] > ZOOMED * (
            had[3] - had[1]
        ):
            return had
        return overlap(box, self._screen)

    def _look(self, screen: Array, place: Place, window: Array) -> Sight | None:
        return self._comparer.look(screen, self._shrink, place, self._tone, window)

    def _keep(self, row: int, place: int, sight: Sight, screen: Array) -> None:
        self.rows.put(row, place, sight)
        self._place, self._seen = place, screen
        if place in self._haunts:
            self._haunts.remove(place)
        self._haunts = [place, *self._haunts[:3]]
        self._lost.clear()
        least = max(float(sight.cost.min()), LEAST_ERROR)
        self._usual = least if np.isinf(self._usual) else 0.8 * self._usual + 0.2 * least
        self._tone.learn(*sight.lesson(self._library))

    def _index(self, sight: Sight, window: Array) -> int:
        """The index of a place, an old one where it is the same."""
        for index in self._haunts:
            if self.rows.places[index].apart(sight.place, self._corners) <= self._still(
                sight.place
            ):
                return index
        self.rows.places.append(sight.place)
        self.rows.windows.append(window)
        return len(self.rows.places) - 1

    def _search(self, row: int, screen: Array, time_s: float, cut: bool) -> None:
        """Seek a clip that is not where it was: at its old haunts, then all over the screen."""
        for index in list(self._haunts):
            sight = self._look(screen, self.rows.places[index], self.rows.windows[index])
            if (
                sight is not None
                and _there(sight)
                and sight.drift_px <= 3 * self._still(sight.place)
            ):
                self._found(row, index, sight, screen)
                return
        wait = CUT_RETRY_S if cut else RETRY_S
        if time_s - self._tried_s >= wait:
            self._tried_s = time_s
            found = self._locate(screen)
            if found is not None:
                self._found(row, self._index(*found), found[0], screen)
                return
        self._lost.append((row, screen))

    def _found(self, row: int, index: int, sight: Sight, screen: Array) -> None:
        """Found again: look back at the pictures since it was lost."""
        lost = list(self._lost)
        self._keep(row, index, sight, screen)
        for earlier, picture in reversed(lost):
            if not self._follow(earlier, picture):
                break
        self._place, self._seen = index, screen

    def _locate(self, screen: Array) -> tuple[Sight, Array] | None:
        """The largest copy on the screen that proves to be the clip."""
        scale = min(1.0, LOCATE_PX / screen.shape[1])
        size = round(screen.shape[1] * scale), round(screen.shape[0] * scale)
        small = cv2.resize(screen, size, interpolation=cv2.INTER_AREA) if scale < 1 else screen
        places = self._finder.copies(small, self._shrink * screen.shape[1] / size[0])
        width, height = self._screen_px
        clip_w, clip_h = self._library.grid.clip_px
        for place in sorted(places, key=lambda p: -abs(p.ax)):
            if max(abs(place.ax) * clip_w / width, place.ay * clip_h / height) < SMALLEST:
                continue
            sight = self._prove(screen, place)
            if sight is not None:
                return sight, self._likely_window(screen, sight)
        return None

    def _likely_window(self, screen: Array, sight: Sight) -> Array:
        """What cuts a clip found from scratch: a window it filled before, or the screen."""
        box = sight.place.box(*self._library.grid.clip_px)
        best, agree = overlap(box, self._screen), sight.agree
        for index in self._haunts:
            window = self.rows.windows[index]
            if np.abs(overlap(box, window) - window).max() > self._still(sight.place):
                continue  # does not fill it
            within = self._look(screen, sight.place, window)
            if within is not None and within.agree > agree:
                best, agree = window, within.agree
        return best

    def _prove(self, screen: Array, place: Place) -> Sight | None:
        """Settle place, clip frame and tone together; None where it is not the clip after all."""
        tone, kept = Tone(), self._tone
        self._tone = tone
        sight = None
        for _ in range(3):
            sight = self._look(screen, place, self._screen)
            if sight is None or sight.agree < THERE / 2 or sight.blocks < FEWEST_BLOCKS:
                sight = None
                break
            template = self._library.frames[sight.best()]
            found = refine(screen, self._shrink, place, template, self._library.grid, self._screen)
            if found is not None:
                place = found[0]
            tone.learn(*sight.lesson(self._library), fresh=True)
        sight = self._look(screen, place, self._screen) if sight is not None else None
        if sight is not None and _there(sight):
            return sight
        self._tone = kept
        return None


def _fits_better(one: Sight, other: Sight) -> bool:
    """More of the picture agrees, or about as much and more closely."""
    gain = one.agree - other.agree
    return gain > 0.1 or (gain > -0.1 and float(one.cost.min()) < float(other.cost.min()))


def _there(sight: Sight) -> bool:
    return sight.agree >= THERE and sight.blocks >= FEWEST_BLOCKS
