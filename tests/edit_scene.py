"""A small invented episode: a stick rower, a clip of him, a recording that shows the clip."""

from dataclasses import replace
from fractions import Fraction

import numpy as np

from studio.config import Athlete, Corrections, PictureSettings, Settings
from studio.edit.planner import plan
from studio.model.media import AudioStream, MediaFile, VideoStream
from studio.model.playhead import STATES, DrawnArea, Playhead, Span
from studio.model.speech import Cue
from studio.model.technique import ANGLES, POINTS, BodyTrack, Stroke, Technique, View

CLIP_PX = (160, 96)
SCREEN_PX = (240, 144)
AFFINE = np.array([[[1.2, 0.0, 20.0], [0.0, 1.2, 12.0]]])
"""Clip to screen: 192 x 115.2 at (20, 12)."""
CYCLE_S, DRIVE_S = 1.0, 0.4


def video(size=SCREEN_PX, rate=Fraction(30), count=900, *, variable=False):
    return VideoStream(size[0], size[1], 0, rate, Fraction(1, 90000), Fraction(0), count, variable,
                       Fraction(1), "h264", "yuv420p", "sdr", None)  # fmt: skip


def media(name="recording.mp4", seconds=30, *, size=SCREEN_PX, rate=Fraction(30), sound=True,
          variable=False):  # fmt: skip
    audio = AudioStream(48000, 1, Fraction(0), Fraction(seconds), "aac") if sound else None
    stream = video(size, rate, round(seconds * rate), variable=variable)
    return MediaFile(name, "0" * 32, Fraction(seconds), stream, audio, ())


def technique(seconds=3.0, *, face=True):
    """Catches at 0.5, 1.5, 2.5; finishes 0.4 s later; every point moves along x."""
    times = np.arange(round(seconds * 30)) / 30
    sway = np.cos(2 * np.pi * (times - 0.5) / CYCLE_S)
    base = {
        "shoulder": (80, 30), "elbow": (66, 44), "wrist": (52, 48), "hip": (90, 66),
        "knee": (64, 58), "ankle": (46, 80), "heel": (44, 86), "toe": (34, 78), "ear": (80, 16),
        "handle": (48, 48),
    }  # fmt: skip
    points = {
        n: np.stack([x - 8 * sway, np.full_like(sway, y)], 1).astype(np.float32)
        for n, (x, y) in base.items()
    }
    circle = np.stack([78 - 8 * sway, np.full_like(sway, 16), np.full_like(sway, 8)], 1)
    if not face:
        circle[:] = np.nan
    body = BodyTrack(
        times, points, {n: np.full(len(times), 20, np.float32) for n in ANGLES},
        {n: np.ones(len(times), np.float32) for n in POINTS}, circle.astype(np.float32),
        "left", "made",
    )  # fmt: skip
    strokes = []
    for index in range(3):
        catch = 0.5 + index * CYCLE_S
        following = catch + CYCLE_S if catch + CYCLE_S < seconds else None
        events = {"hands_away": catch + 0.5, "body_over": catch + 0.65, "knees_bend": catch + 0.7}
        strokes.append(
            Stroke(index, catch, catch + DRIVE_S, following, events, following is not None, 0.9)
        )
    return Technique(1.0, View(0.0, 0.0, True), body, tuple(strokes))


def playhead(parts, *, rate=30, drawn=()):
    """Rows from parts `(seconds, state, clip_start_s, clip seconds per second)`."""
    recording_s, clip_s, state, spans = [], [], [], []
    now = 0
    for seconds, name, start, speed in parts:
        count = round(seconds * rate)
        steps = np.arange(count) / rate
        shown = np.full(count, np.nan) if start is None else start + steps * speed
        if start is not None:
            shown = np.round(shown * 30) / 30
        spans.append(
            Span(now / rate, (now + count) / rate, name, start,
                 None if start is None else float(shown[-1]), None if start is None else speed)
        )  # fmt: skip
        recording_s += list((now + np.arange(count)) / rate)
        clip_s += list(shown)
        state += [STATES.index(name)] * count
        now += count
    there = ~np.isnan(np.array(clip_s))
    box = np.array([[20.0, 12.0, 212.0, 127.2]])
    return Playhead(
        np.array(recording_s), np.array(clip_s), np.array(state, np.int8),
        np.where(there, 0, -1).astype(np.int32), AFFINE, box,
        there.astype(np.float32), np.full(now, np.nan), tuple(spans),
        tuple(DrawnArea(*area) for area in drawn), *SCREEN_PX,
    )  # fmt: skip


def settings(consent="yes", **changes):
    quick = PictureSettings(crf=18, preset="ultrafast", blur_bystanders=False)
    made = Settings(athlete=Athlete(alias="Tobias", consent=consent), picture=quick)
    return replace(made, **changes)


def cue(start, end, *lines):
    return Cue(round(start * 1000), round(end * 1000), lines or ("A word or two.",))


PLAY_THROUGH = (
    (1.0, "absent", None, 0.0),
    (3.0, "playing", 0.0, 1.0),
    (2.0, "paused", 1.9, 0.0),  # a finish
    (2.0, "paused", 1.2, 0.0),  # in the middle of a recovery
    (2.0, "paused", 1.5, 0.0),  # a catch
)
"""10 s of recording: a card, the clip once through, three rests."""


def make_plan(parts=PLAY_THROUGH, *, cues=(), outline=None, corrections=None, **changes):
    seconds = sum(p[0] for p in parts)
    given = {
        "recording": media(seconds=seconds),
        "clip": media("clip.mp4", 3, size=CLIP_PX, sound=False),
        "playhead": playhead(parts),
        "technique": technique(),
        "outline": outline,
        "cues": cues,
        "settings": settings(),
        "corrections": corrections or Corrections(),
    }
    return plan(**(given | changes))
