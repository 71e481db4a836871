"""Everything that is known to one edit plan."""

from __future__ import annotations

from fractions import Fraction

from studio.config import Corrections, Settings
from studio.edit import pacing
from studio.edit.cues import program_chapters, program_cues
from studio.edit.grid import Grid, picture_end, program_rate
from studio.edit.hold_fixes import apply_fixes
from studio.edit.holds import Stop, covers, inserts, tidy
from studio.edit.marks import overlay_cues
from studio.edit.moments import moments, passings, rests
from studio.edit.screen import screen
from studio.edit.shots import ZERO, Clock, Cutter, cut_recording
from studio.edit.validate import validate
from studio.errors import PlanError
from studio.model.media import MediaFile, VideoStream
from studio.model.plan import EditPlan, Hold
from studio.model.playhead import Playhead
from studio.model.speech import Cue, Outline
from studio.model.technique import Technique
from studio.timebase import clock_face


def plan(
    *,
    recording: MediaFile | None,
    clip: MediaFile | None,
    playhead: Playhead | None,
    technique: Technique | None,
    outline: Outline | None,
    cues: tuple[Cue, ...],
    settings: Settings,
    corrections: Corrections,
) -> EditPlan:
    """Plan the program.

    With a recording, the program is the recording with holds. Without one it is the clip's own
    analysis episode. Without a clip (or a playhead) the recording is left as it is.

    Args:
        recording: The coach's recording; None = there is none.
        clip: The athlete's clip; None = there is none.
        playhead: Which clip moment the recording shows; None = not known.
        technique: What the clip shows; None = not known.
        outline: Chapters and talking points; recording time.
        cues: Captions; recording time.
        settings: `episode.toml`.
        corrections: `corrections.toml`.

    Raises:
        PlanError: Nothing to show, or corrections that contradict the media.
    """
    main = recording or clip
    if main is None or main.video is None:
        raise PlanError("There is no picture to make an episode of.", "Name a recording or a clip.")
    grid = Grid(program_rate(main.video))
    cutter = Cutter(grid, [])
    notices: list[str] = []
    title = pacing.wants_title(settings, playhead, recorded=recording is not None)
    if title:
        cutter.add("card", grid.snap(pacing.CARD_S), ZERO, ZERO, _tone(recording), "title")
        notices.append(f"A title card of {float(pacing.CARD_S):g} s: {title}.")
    end_s = grid.snap(picture_end(main))
    if recording is None:
        holds = pacing.cut_clip(cutter, end_s, technique, settings.holds.seconds)
    else:
        stops = _stops(recording, playhead, technique, outline, cues, settings, corrections)
        holds = cut_recording(cutter, end_s, stops, sound=recording.audio is not None)
    notices += _hold_notices(holds, recording)
    made = _assemble(cutter, holds, main.video, playhead, technique, outline, cues, settings,
                     recorded=recording is not None, notices=notices)  # fmt: skip
    validate(made, recording=recording, clip=clip)
    return made


def _stops(
    recording: MediaFile,
    playhead: Playhead | None,
    technique: Technique | None,
    outline: Outline | None,
    cues: tuple[Cue, ...],
    settings: Settings,
    corrections: Corrections,
) -> list[Stop]:
    if playhead is None:
        if corrections.holds:
            raise PlanError(
                "corrections.toml: holds cannot be set; the clip is not known to be on screen.",
                "Name the clip in episode.toml.",
            )
        return []
    all_moments = moments(technique)
    rested = rests(playhead, all_moments, _factor(technique))
    stops = covers(rested)
    if settings.holds.insert:
        stops += inserts(passings(playhead, all_moments), rested, outline, cues,
                         seconds=settings.holds.seconds,
                         recording_s=float(recording.duration_s))  # fmt: skip
    fixed = apply_fixes(stops, corrections.holds, playhead, all_moments,
                        seconds=settings.holds.seconds)  # fmt: skip
    return tidy(fixed)


def _assemble(
    cutter: Cutter,
    holds: list[Hold],
    video: VideoStream,
    playhead: Playhead | None,
    technique: Technique | None,
    outline: Outline | None,
    cues: tuple[Cue, ...],
    settings: Settings,
    *,
    recorded: bool,
    notices: list[str],
) -> EditPlan:
    """Put captions, chapters and overlays to the shots."""
    shots = tuple(cutter.shots)
    clock = Clock(shots) if recorded else None
    rate = cutter.grid.rate
    draft = settings.athlete.consent == "unknown" and (playhead is not None or not recorded)
    on_screen = screen(shots, rate, playhead if recorded else None, _factor(technique))
    overlays = overlay_cues(on_screen, shots, tuple(holds), rate, outline=outline, clock=clock,
                            technique=technique, draft=draft,
                            words=pacing.card_words(settings, technique))  # fmt: skip
    chapters = outline.chapters if outline else ()
    return EditPlan(
        frame_rate=rate,
        width_px=video.width_px,
        height_px=video.height_px,
        duration_s=cutter.now_s,
        shots=shots,
        holds=tuple(holds),
        overlays=overlays,
        cues=program_cues(cues, clock, holds) if clock else (),
        chapters=program_chapters(chapters, clock, cutter.now_s) if clock else (),
        draft=draft,
        blur_athlete=settings.athlete.consent != "yes",
        notices=tuple(notices),
    )


def _factor(technique: Technique | None) -> float:
    """Clip seconds per real second; 1 where it is not known (the stricter choice for a rest)."""
    return (technique.time_factor if technique else None) or 1.0


def _tone(recording: MediaFile | None) -> str:
    return "room" if recording is not None and recording.audio is not None else "none"


def _hold_notices(holds: list[Hold], recording: MediaFile | None) -> list[str]:
    told = []
    covered = [h for h in holds if not h.inserted]
    if covered:
        total = sum((h.duration_s for h in covered), Fraction(0))
        told.append(
            f"{len(covered)} of your own rests on a catch or finish show the clip's own picture "
            f"({float(total):.0f} s in all)."
        )
    told += [
        f"A hold of {float(hold.duration_s):.1f} s on the {hold.phase} is inserted at "
        f"{clock_face(hold.program_start_s)}: {hold.why}."
        for hold in holds
        if hold.inserted
    ]
    if recording is not None and not holds:
        told.append("No hold: the recording neither rests on nor plays through a known catch.")
    return told
