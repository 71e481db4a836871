"""One render in a process of its own, from the kit's truth; prints what it cost as JSON."""

import json
import resource
import sys
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np

from studio.config import Athlete, ClipSettings, Corrections, HoldSettings, Settings
from studio.ingest.probe import probe
from studio.model.playhead import STATES, DrawnArea, Playhead, Span
from studio.model.speech import Chapter, Cue, Outline, TalkingPoint
from studio.model.technique import POINTS, BodyTrack, Stroke, Technique, View
from studio.progress import Quiet

CODES = {"absent": 0, "play": 1, "pause": 2, "scrub": 3}


@dataclass
class Scene:
    """Arguments of the planner, and the files."""

    arguments: dict
    paths: tuple[Path, Path]
    source: str

    @property
    def playhead(self):
        """Which clip moment is on screen."""
        return self.arguments["playhead"]

    @property
    def technique(self):
        """The athlete."""
        return self.arguments["technique"]


def scene(kit: Path, name: str, *, measured: str) -> Scene:
    """A kit recording with technique and playhead from the truth.

    `measured` "true" takes the technique the program measures, "measured" the playhead as well.
    """
    truth = json.loads((kit / f"{name}.truth.json").read_text())
    paths = kit / f"{name}.mp4", kit / truth["clip"]["file"]
    recording, clip = (probe(path) for path in paths)
    settings = Settings(athlete=Athlete(consent="yes"))
    told = json.loads(paths[1].with_suffix(".json").read_text())
    head, body, source = _playhead(truth), _technique(told), "true joints and playhead"
    if measured:
        body = _seen(paths[1], clip, settings)
        source = f"joints by {body.body.source}, {measured} playhead"
    if measured == "measured":
        from studio.playhead.follow import follow

        head = follow(paths[0], recording, paths[1], clip, progress=Quiet())
    outline, cues = _words(truth)
    arguments = {
        "recording": recording, "clip": clip, "playhead": head, "technique": body,
        "outline": outline, "cues": cues, "settings": settings, "corrections": Corrections(),
    }  # fmt: skip
    return Scene(arguments, paths, source)


def _seen(path, clip, settings) -> Technique:
    from studio.technique.analyse import analyse
    from studio.technique.pose import track_pose

    pose = track_pose(path, clip.video, weights=settings.clip.weights, progress=Quiet())
    return analyse(pose, clip, settings, Corrections())


def _playhead(truth: dict) -> Playhead:
    frames = truth["frames"]
    pts = np.array(frames["pts"])
    clip_s = np.array([np.nan if c is None else c for c in frames["clip_time"]])
    state = np.array([CODES[s] for s in frames["state"]], np.int8)
    placed = np.array([-1 if a is None else a for a in frames["affine"]], np.int32)
    affines = np.array(truth["affines"]).reshape(-1, 2, 3)
    seen = np.zeros((len(affines), 4))
    for affine, box in zip(frames["affine"], frames["seen"], strict=True):
        if affine is not None:
            seen[affine] = truth["seen_rects"][box]
    edges = [0, *(np.flatnonzero(np.diff(state)) + 1), len(state)]
    spans = [_span(pts, clip_s, state, a, b) for a, b in pairwise(edges)]
    drawn = tuple(_drawn(shape, affines[0]) for shape in truth["shapes"])
    size = truth["recording"]["width"], truth["recording"]["height"]
    return Playhead(pts, clip_s, state, placed, affines, seen,
                    (state > 0).astype(np.float32), np.full(len(pts), np.nan), tuple(spans),
                    drawn, *size)  # fmt: skip


def _span(pts, clip_s, state, first, end) -> Span:
    stop = pts[end] if end < len(pts) else pts[-1] + 1 / 30
    if not state[first]:
        return Span(pts[first], stop, "absent", None, None, None)
    rate = (clip_s[end - 1] - clip_s[first]) / max(stop - pts[first], 1 / 30)
    still = state[first] == CODES["pause"]
    return Span(pts[first], stop, STATES[state[first]], clip_s[first], clip_s[end - 1],
                0.0 if still else rate)  # fmt: skip


def _drawn(shape: dict, affine) -> DrawnArea:
    points = np.array(shape["points"])
    if shape["kind"] == "circle":
        radius = np.linalg.norm(points[1] - points[0])
        points = np.array([points[0] - radius, points[0] + radius])
    screen = points @ affine[:, :2].T + affine[:, 2]
    return DrawnArea(shape["t0"], shape["erased"], (*(screen.min(0) - 6), *(screen.max(0) + 6)))


def _technique(told: dict) -> Technique:
    rows = told["per_frame"]
    points = {p: np.array([r["p2d"][p] for r in rows], np.float32) for p in POINTS}
    angles = {
        "trunk": [r["angles"]["torso"] for r in rows],
        "shin": [r["angles"]["shin"] for r in rows],
        "knee": [180 - r["angles"]["knee_flexion"] for r in rows],
        "elbow": [180 - r["angles"]["elbow_flexion"] for r in rows],
        "hip": [r["angles"]["hip"] for r in rows],
    }
    nose = np.array([r["surface2d"]["nose"] for r in rows])
    face = np.column_stack([(nose + points["ear"]) / 2, np.full(len(rows), 48.0)])
    body = BodyTrack(np.array([r["video_time"] for r in rows]), points,
                     {k: np.array(v, np.float32) for k, v in angles.items()},
                     {p: np.ones(len(rows), np.float32) for p in POINTS},
                     face.astype(np.float32), told["facing"], "truth")  # fmt: skip
    catches, finishes = ([n / told["fps"] for n in told[k]] for k in
                         ("catch_frames", "finish_frames"))  # fmt: skip
    strokes = []
    for index, catch in enumerate(catches):
        finish = next((f for f in finishes if f > catch), None)
        following = next((c for c in catches if c > catch), None)
        whole = finish is not None and following is not None
        strokes.append(Stroke(index, catch, finish, following, {}, whole, 1.0))
    return Technique(told["time_factor"], View(0.0, 0.0, True), body, tuple(strokes))


def _words(truth: dict) -> tuple[Outline | None, tuple[Cue, ...]]:
    if "talk" not in truth:
        return None, ()
    starts = [c["start_s"] for c in truth["chapters"]]
    ends = [*starts[1:], truth["recording"]["duration"]]
    chapters = tuple(
        Chapter(a, b, c["title"], c["phase"], c["kind"])
        for a, b, c in zip(starts, ends, truth["chapters"], strict=True)
    )
    points = tuple(
        TalkingPoint(p["kind"], p["phase"], p["topic"], p["gist"], p["start_s"], p["end_s"])
        for p in truth["points"]
    )
    cues = tuple(
        Cue(round(s["start_s"] * 1000), round(s["end_s"] * 1000), (s["text"],))
        for s in truth["talk"]
    )
    return Outline(chapters, points), cues


def _shortened(plan, share: float):
    """The first part of a plan."""
    kept, now = [], Fraction(0)
    for shot in plan.shots:
        if now < plan.duration_s * Fraction(share):
            kept.append(shot)
            now += shot.duration_s
    holds = tuple(h for h in plan.holds if h.program_start_s < now)
    return replace(plan, shots=tuple(kept), duration_s=now, holds=holds)


def _clip(path: Path, out: Path) -> dict[str, object]:
    """A clip on its own, played once: every frame moves and every frame has marks."""
    from studio.deliver.render import render
    from studio.edit.planner import plan

    media = probe(path)
    settings = Settings(athlete=Athlete(consent="yes"), holds=HoldSettings(insert=False))
    body = _seen(path, media, replace(settings, clip=ClipSettings(weights="full")))
    made = plan(recording=None, clip=media, playhead=None, technique=body, outline=None, cues=(),
                settings=settings, corrections=Corrections())  # fmt: skip
    once = replace(made, shots=made.shots[:1], duration_s=made.shots[0].duration_s, holds=())
    used = resource.getrusage(resource.RUSAGE_SELF)
    frames = render(
        once,
        recording=None,
        clip=(path, media),
        playhead=None,
        technique=body,
        others=None,
        guests={},
        settings=settings,
        out=out,
        progress=Quiet(),
    )
    return {"setup_cpu_s": used.ru_utime + used.ru_stime, "frames": frames}


def main(argv: list[str]) -> None:
    """`picture|whole KIT NAME OUT [SHARE]`, or `clip FOLDER NAME OUT`."""
    from studio.deliver.finish import finish
    from studio.deliver.render import render
    from studio.deliver.sound import write_sound
    from studio.edit.planner import plan

    mode, kit, name, out = argv[0], Path(argv[1]), argv[2], Path(argv[3])
    if mode == "clip":
        print(json.dumps(_clip(kit / name, out)))
        return
    made = scene(kit, name, measured="")
    settings = made.arguments["settings"]
    # holds are inserted nowhere, so that both sides encode the same number of frames
    settings = replace(settings, holds=replace(settings.holds, insert=False))
    edit = plan(**{**made.arguments, "settings": settings})
    if len(argv) > 4:
        edit = _shortened(edit, float(argv[4]))
    recording, clip = zip(made.paths, (made.arguments["recording"], made.arguments["clip"]),
                          strict=True)  # fmt: skip
    import scipy.signal  # noqa: F401 - the stages before have it loaded when a make gets here

    used = resource.getrusage(resource.RUSAGE_SELF)
    told: dict[str, object] = {"setup_cpu_s": used.ru_utime + used.ru_stime}
    picture = out if mode == "picture" else out.with_suffix(".picture.mp4")
    told["frames"] = render(edit, recording=recording, clip=clip, playhead=made.playhead,
                            technique=made.technique, others=None, guests={}, settings=settings,
                            out=picture, progress=Quiet())  # fmt: skip
    if mode == "whole":
        sound = out.with_suffix(".m4a")
        target = settings.sound.loudness_lufs
        told |= write_sound(edit, recording, target_lufs=target, out=sound) or {}
        finish(edit, picture=picture, sound=sound, about=settings.episode, out=out)
    told["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps(told))


if __name__ == "__main__":
    main(sys.argv[1:])
