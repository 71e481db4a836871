"""A small invented episode on disk for the desk: a drawn rower, numbered frames, a short talk."""

import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np

from studio import store
from studio.config import Corrections
from studio.episode import open_episode
from studio.ingest.probe import probe
from studio.model.playhead import Playhead
from studio.model.speech import Chapter, Outline, Sentence, TalkingPoint, Transcript, Word
from studio.pipeline import key_of
from studio.speech.captions import make_cues
from studio.stages import STAGES
from studio.technique.analyse import analyse
from tests import edit_scene
from tests.conftest import write_video
from tests.technique_rower import WIDTH as ROWER_WIDTH, rower

SIZE = (320, 180)
BITS = 10
RATE = 30
EPISODE = """\
# an invented episode
[episode]
title = "Mira at rate forty"
series = "Stroke Surgery"
club = "Quillwater Rowing Club"

[sources]
recording = "recording.mp4"
clip = "clip.mp4"

[athlete]
alias = "Mira"   # invented
consent = "yes"

[picture]
preset = "ultrafast"
blur_bystanders = false
"""
TALK = (
    "Welcome to Stroke Surgery at Quillwater.",
    "Mira rows at a steady rate on the machine.",
    "The kech is long and the shins are upright, keep that.",
    "At the finish she leans back a little too far.",
    "Sit tall at the finish and let the hands do the work.",
    "That is all for today, row well.",
)
CHAPTERS = ("Welcome", "The catch: long", "The finish: tall")


def numbered(count: int, size=SIZE) -> list[np.ndarray]:
    """Grey frames that carry their number in black and white squares along the lower edge."""
    frames = []
    for number in range(count):
        frame = np.full((size[1], size[0], 3), 90, np.uint8)
        for bit in range(BITS):
            x = bit * size[0] // BITS
            frame[-24:, x : x + size[0] // BITS] = 255 if number >> bit & 1 else 0
        frames.append(frame)
    return frames


def transcript(talk=TALK, start_s=0.5, word_s=0.3) -> Transcript:
    """Words at an even pace; those not in a dictionary are doubtful."""
    words, sentences, now = [], [], start_s
    for text in talk:
        first = now
        for word in text.split():
            words.append(Word(word, now, now + word_s * 0.9, 0.3 if "kech" in word else 0.95))
            now += word_s
        sentences.append(Sentence(text, first, now))
        now += 0.4
    return Transcript("en", tuple(words), tuple(sentences), "invented")


def outline(words: Transcript) -> Outline:
    """Three chapters and two talking points."""
    s = words.sentences
    starts = [0.0, s[2].start_s, s[3].start_s, s[-1].end_s + 1]
    kinds = [(None, "intro"), ("catch", "keep"), ("finish", "change")]
    chapters = tuple(
        Chapter(a, b, title, phase, kind)
        for a, b, title, (phase, kind) in zip(starts, starts[1:], CHAPTERS, kinds, strict=False)
    )
    points = (
        TalkingPoint("keep", "catch", "length", s[2].text, s[2].start_s, s[2].end_s, "lean", True),
        TalkingPoint("change", "finish", "layback", s[3].text, s[3].start_s, s[3].end_s, "layback",
                     False),
    )  # fmt: skip
    return Outline(chapters, points)


def playhead(seconds: float, clip_s: float, plays: int = 1) -> Playhead:
    """A card, the clip played through, a rest on a catch, and so on to the end."""
    parts = [(1.0, "absent", None, 0.0)]
    for _ in range(plays):
        parts += [(clip_s - 0.1, "playing", 0.0, 1.0), (2.0, "paused", 1.9, 0.0)]
    rest = seconds - sum(p[0] for p in parts)
    parts.append((rest, "paused", 1.9, 0.0))
    made = edit_scene.playhead(parts)
    at = np.array([[[0.75, 0.0, 20.0], [0.0, 0.75, 12.0]]])
    seen = np.array([[20.0, 12.0, 260.0, 147.0]])
    return replace(made, clip_to_screen=at, seen_px=seen, width_px=SIZE[0], height_px=SIZE[1])


def build(folder: Path, *, talk=TALK, seconds=0.0, plays=1, recording: Path | None = None) -> Path:
    """Write the episode: sources, and the results of every stage that listens or looks."""
    folder.mkdir(parents=True)
    (folder / "episode.toml").write_text(EPISODE)
    pose, _ = rower(rate_spm=40, strokes=3)
    scale = SIZE[0] / ROWER_WIDTH
    pose = replace(pose, xy_px=pose.xy_px * scale, width_px=SIZE[0], height_px=SIZE[1])
    write_video(folder / "clip.mp4", numbered(len(pose.time_s)))
    words = transcript(talk)
    seconds = seconds or float(np.ceil(words.sentences[-1].end_s + 1))
    if recording is not None:
        shutil.copy(recording, folder / "recording.mp4")
    else:
        tone = 0.05 * np.sin(np.arange(int(seconds * 48000)) / 20)
        write_video(folder / "recording.mp4", numbered(int(seconds * RATE)), sound=tone)
    episode = open_episode(folder)
    spoken, clip = probe(folder / "recording.mp4"), probe(folder / "clip.mp4")
    found = analyse(pose, clip, episode.settings, Corrections())
    head = playhead(seconds, float(pose.time_s[-1]), plays)
    shape = outline(words)
    results = {"recording": spoken, "clip": clip, "pose": pose, "playhead": head,
               "words": words, "technique": found, "outline": shape}  # fmt: skip
    results["plan"] = edit_scene.plan(
        recording=spoken, clip=clip, playhead=head, technique=found, outline=shape,
        cues=make_cues(words, episode.settings, Corrections()), settings=episode.settings,
        corrections=Corrections(),
    )  # fmt: skip
    for stage in STAGES:  # in their order, since a key rests on the results before it
        if stage.name in results:
            files = store.save(episode.work / f"{stage.name}.json", results[stage.name])
            if stage.name not in ("technique", "outline", "plan"):
                store.mark(episode.work, stage.name, key_of(episode, stage), files)
    return folder


__all__ = ["BITS", "CHAPTERS", "EPISODE", "SIZE", "TALK", "build", "transcript"]
