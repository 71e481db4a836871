"""An edit plan to the program's picture: decode, draw and encode side by side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import av

from overlays import Blur, Mark, blend_yuv420, lay_yuv420, prepare_yuv420
from overlays.blend import Step
from studio.config import Settings
from studio.deliver.beside import Athlete, Beside
from studio.deliver.cards import Cards
from studio.deliver.cover import Covers
from studio.deliver.drawing import Drawing
from studio.deliver.encode import Ahead, Encoder
from studio.deliver.faces import Blurs, FaceTrack
from studio.deliver.layers import Look, Looks
from studio.deliver.onscreen import on_screen
from studio.deliver.planes import Coding, Pool, coding_of, planes_of
from studio.deliver.source import Picture, Reader, pictures
from studio.model.faces import OtherFaces
from studio.model.media import MediaFile
from studio.model.plan import EditPlan
from studio.model.playhead import Playhead
from studio.model.technique import Technique
from studio.progress import Progress
from studio.store import write_aside

Source = tuple[Path, MediaFile]


class Scenery:
    """Everything the picture needs, and the drawing of one frame."""

    def __init__(
        self,
        plan: EditPlan,
        recording: Source | None,
        clip: Source | None,
        playhead: Playhead | None,
        technique: Technique | None,
        others: OtherFaces | None,
        guests: Mapping[str, Athlete],
        alias: str,
    ) -> None:
        video = clip[1].video if clip else None
        size = (video.width_px, video.height_px) if video else None
        follows = playhead if recording is not None else None
        if recording is not None and playhead is None:
            technique = (
                None  # where the clip is on screen is not known: nothing can be locked to it
            )
        self.plan, self.recording, self.clip = plan, recording, clip
        self.coding = _coding(plan, recording or clip)
        self.table = on_screen(plan, follows, technique, size)
        self.looks = Looks(plan, self.table)
        self.drawing = Drawing(plan, self.table, technique, follows)
        covered = clip if recording is not None else None
        self.covers = Covers(plan, self.table, covered, self.coding)
        athlete = FaceTrack(technique, size) if plan.blur_athlete and size else None
        self.blurs = Blurs(self.table, athlete, others)
        host = None
        if clip is not None and technique is not None:
            host = Athlete(clip, technique, plan.blur_athlete, others, alias)
        self.beside = Beside(plan, host, guests, self.coding)
        self._steps: tuple[list[Mark], list[Step]] | None = None
        self.pool = Pool(plan.width_px, plan.height_px)

    def pictures(self) -> Iterator[Picture]:
        """The undrawn program."""
        cards = Cards(self.plan, self.coding)
        return pictures(self.plan, self.recording, self.clip, cards.frame)

    def draw(self, picture: Picture, look: Look) -> tuple[av.VideoFrame, bool]:
        """The finished frame, and whether it is our own copy."""
        number = picture.number
        for active in look.active:
            whole = self.beside.frame(active.cue)
            if whole is not None:
                return self.pool.copy(whole), True
        marks = self.drawing.marks(look)
        blurs = self.blurs.at(number)
        covered = self.covers.covers(number)
        if not (marks or blurs or covered):
            return picture.frame, False
        frame = self.pool.copy(picture.frame)
        planes = planes_of(frame)
        if covered:
            self.covers.lay(number, planes)
        if blurs:
            blend_yuv420(planes, blurs, matrix=self.coding.matrix)
        lay_yuv420(planes, self._prepared(marks))
        return frame, True

    def _prepared(self, marks: list[Mark]) -> list[Step]:
        """The steps of a look's marks; a look that stays keeps its list."""
        if self._steps is None or self._steps[0] is not marks:
            still = [mark for mark in marks if not isinstance(mark, Blur)]
            size = (self.plan.width_px, self.plan.height_px)
            steps = prepare_yuv420(still, size, matrix=self.coding.matrix)
            self._steps = (marks, steps)
        return self._steps[1]


def render(
    plan: EditPlan,
    *,
    recording: Source | None,
    clip: Source | None,
    playhead: Playhead | None,
    technique: Technique | None,
    others: OtherFaces | None,
    guests: Mapping[str, Athlete],
    settings: Settings,
    out: Path,
    progress: Progress,
) -> int:
    """Draw and encode every frame of a plan into an MP4 without sound.

    Args:
        plan: A validated plan.
        recording: The coach's recording.
        clip: The athlete's clip.
        playhead: Which clip moment the recording shows.
        technique: What the clip shows.
        others: Bystanders' faces to blur.
        guests: Athletes of other episodes, by the folder that the plan names them with.
        settings: `episode.toml`.
        out: The MP4; written aside and renamed.
        progress: Told how far it is.

    Returns:
        How many frames.

    Raises:
        MediaError: A source cannot be read.
        OutputError: The file cannot be written.
    """
    alias = settings.athlete.alias
    scenery = Scenery(plan, recording, clip, playhead, technique, others, guests, alias)
    with write_aside(out) as aside:
        return _frames(scenery, settings, aside, progress)


def _frames(scenery: Scenery, settings: Settings, out: Path, progress: Progress) -> int:
    plan = scenery.plan
    total = round(plan.duration_s * plan.frame_rate)
    progress.start("Rendering", total, "frame")
    size = (plan.width_px, plan.height_px)
    ahead = Ahead(scenery.pictures())
    count = 0
    still: tuple[Look, av.VideoFrame] | None = None
    try:
        with Encoder(out, size, plan.frame_rate, settings.picture, scenery.coding,
                     scenery.pool.give_back) as encoder:  # fmt: skip
            for picture in ahead:
                look = scenery.looks.at(picture.number)
                if still is not None and picture.repeated and still[0] == look:
                    encoder.put(picture.number, scenery.pool.keep(still[1]), own=True)
                else:
                    frame, own = scenery.draw(picture, look)
                    if still is not None:
                        scenery.pool.give_back(still[1])
                    still = (look, scenery.pool.keep(frame)) if own else None
                    encoder.put(picture.number, frame, own=own)
                count += 1
                progress.advance()
    finally:
        ahead.close()
        progress.finish()
    return count


def _coding(plan: EditPlan, main: Source | None) -> Coding:
    """The colour coding of the main source, from its first frame."""
    assert main is not None
    reader = Reader(*main, (plan.width_px, plan.height_px))
    try:
        return coding_of(reader.at(plan.frame_rate * 0))
    finally:
        reader.close()
