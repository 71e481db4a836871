"""The stages: each a short call into one part of the program. Heavy imports stay inside."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from studio import store
from studio.episode import Episode
from studio.errors import EvidenceError
from studio.guests import guest, guest_names, guests_state
from studio.pipeline import Job, Stage


def _probe(job: Job, name: str) -> Any:
    from studio.ingest.probe import probe

    path = job.episode.source(name)
    if path is None:
        return None
    media = probe(path)
    for notice in media.notices:
        job.progress.note(f"{name}: {notice}")
    return media


def _recording(job: Job) -> Any:
    media = _probe(job, "recording")
    if media is not None and media.audio is None and job.episode.source("captions") is None:
        raise EvidenceError(
            f"{media.path}: the recording has no sound, so there is no talk to work from.",
            "Record it again with the microphone on, or add your captions with --captions.",
        )
    return media


def _clip(job: Job) -> Any:
    return _probe(job, "clip")


def _pose(job: Job) -> Any:
    from studio.technique.pose import track_pose

    clip = job.result("clip")
    if clip is None:
        return None
    weights = job.episode.settings.clip.weights
    return track_pose(job.source("clip"), clip.video, weights=weights, progress=job.progress)


def _technique(job: Job) -> Any:
    from studio.technique.analyse import analyse

    pose = job.result("pose")
    if pose is None:
        return None
    episode = job.episode
    found = analyse(pose, job.result("clip"), episode.settings, episode.corrections)
    for notice in found.notices:
        job.progress.note(f"clip: {notice}")
    return found


def _playhead(job: Job) -> Any:
    from studio.playhead.follow import follow

    recording, clip = job.result("recording"), job.result("clip")
    if recording is None or clip is None:
        return None
    paths = job.source("recording"), job.source("clip")
    return follow(paths[0], recording, paths[1], clip, progress=job.progress)


def _words(job: Job) -> Any:
    captions = job.episode.source("captions")
    if captions is not None:
        from studio.speech.caption_file import read_captions

        return read_captions(captions)
    recording = job.result("recording")
    if recording is None:
        return None
    from studio.speech.transcribe import transcribe

    return transcribe(
        job.source("recording"), recording, job.episode.settings, progress=job.progress
    )


def _outline(job: Job) -> Any:
    from studio.speech.glossary import apply_fixes
    from studio.speech.outline import outline

    words = job.result("words")
    if words is None:
        return None
    episode = job.episode
    made = outline(
        apply_fixes(words, episode.corrections.words),
        playhead=job.result("playhead"),
        technique=job.result("technique"),
        settings=episode.settings,
        corrections=episode.corrections,
    )
    for notice in made.notices:
        job.progress.note(f"talk: {notice}")
    return made


def _plan(job: Job) -> Any:
    from studio.edit.planner import plan
    from studio.speech.captions import make_cues

    episode = job.episode
    words = job.result("words")
    cues = make_cues(words, episode.settings, episode.corrections) if words else ()
    return plan(
        recording=job.result("recording"),
        clip=job.result("clip"),
        playhead=job.result("playhead"),
        technique=job.result("technique"),
        outline=job.result("outline"),
        cues=cues,
        settings=episode.settings,
        corrections=episode.corrections,
    )


def _listings(job: Job) -> list[Path]:
    """The two lists that other programs read, in the shape that docs/data-model.md promises."""
    from studio.speech.contract import chapter_rows, point_rows

    outline = job.result("outline")
    chapters, points = job.episode.work / "chapters.json", job.episode.work / "talking_points.json"
    store.write_json(chapters, chapter_rows(job.result("plan").chapters))
    store.write_json(points, point_rows(outline.points if outline else ()))
    return [chapters, points]


def _texts(job: Job) -> list[Path]:
    """Captions, chapters and the texts to paste, on program time."""
    from studio.deliver import chapters, subtitles
    from studio.deliver.summary import write_summary
    from studio.speech import caption_report

    episode, plan = job.episode, job.result("plan")
    duration = float(plan.duration_s)
    title = episode.settings.episode.title
    texts = {
        "captions.srt": subtitles.to_srt(plan.cues),
        "captions.vtt": subtitles.to_vtt(plan.cues),
        "chapters.txt": chapters.to_text(plan.chapters),
        "chapters.vtt": chapters.to_vtt(plan.chapters, duration),
        "chapters.json": chapters.to_json(plan.chapters, title=title),
    }
    kept: dict[str, Any] = {}
    words = job.result("words")
    if plan.cues:
        limit = episode.settings.captions.max_chars
        kept["caption_report.json"] = caption_report.report(
            plan.cues, max_chars=limit, words=caption_report.on_program(words, plan)
        )
    if words is not None:
        summary = write_summary(
            job.result("outline"),
            words,
            job.result("technique"),
            plan.chapters,
            episode.settings,
            episode.corrections,
        )
        texts |= {
            "description.txt": summary.description,
            "summary.md": summary.markdown,
            "post.txt": summary.post,
        }
        kept["summary_sources.json"] = list(summary.sources)
    for name, text in texts.items():
        store.write_text(episode.out / name, text)
    for name, rows in kept.items():
        store.write_json(episode.work / name, rows)
    return [*(episode.out / name for name in texts), *(episode.work / name for name in kept)]


def _table(job: Job) -> list[Path]:
    from studio.technique.table import measures_csv

    technique = job.result("technique")
    if technique is None:
        return []
    path = job.episode.out / "measures.csv"
    store.write_text(path, measures_csv(technique))
    return [path]


def _pair(job: Job, name: str) -> tuple[Path, Any] | None:
    media = job.result(name)
    return (job.source(name), media) if media is not None else None


def _shots(job: Job) -> Any:
    """The plan without its words, so that new words alone do not render the picture again."""
    return replace(job.result("plan"), cues=(), chapters=(), notices=())


def _bystanders(job: Job) -> Any:
    from studio.deliver.faces import bystanders

    clip = job.result("clip")
    if clip is None or not job.episode.settings.picture.blur_bystanders:
        return None
    return bystanders(job.source("clip"), clip, job.result("technique"))


def _picture(job: Job) -> list[Path]:
    from studio.deliver.render import render

    out = job.episode.work / "picture.mp4"
    render(
        job.result("shots"),
        recording=_pair(job, "recording"),
        clip=_pair(job, "clip"),
        playhead=job.result("playhead"),
        technique=job.result("technique"),
        others=job.result("bystanders"),
        guests={name: guest(job.episode, name) for name in guest_names(job.episode)},
        settings=job.episode.settings,
        out=out,
        progress=job.progress,
    )
    return [out]


def _sound(job: Job) -> list[Path]:
    from studio.deliver.sound import write_sound

    job.progress.start("Setting the sound", None, "s")
    out, record = job.episode.work / "sound.m4a", job.episode.work / "sound.json"
    target = job.episode.settings.sound.loudness_lufs
    told = write_sound(job.result("shots"), _pair(job, "recording"), target_lufs=target, out=out)
    store.write_text(record, json.dumps(told, sort_keys=True, indent=1) + "\n")
    return [record, out] if told else [record]


def _sound_made(job: Job) -> dict[str, float] | None:
    """What the sound stage told; None = the program has no sound."""
    told: dict[str, float] | None = json.loads((job.episode.work / "sound.json").read_bytes())
    return told


def _episode(job: Job) -> list[Path]:
    from studio.deliver.finish import finish

    work, out = job.episode.work, job.episode.out / "episode.mp4"
    finish(
        job.result("plan"),
        picture=work / "picture.mp4",
        sound=work / "sound.m4a" if _sound_made(job) else None,
        about=job.episode.settings.episode,
        out=out,
    )
    return [out]


def _stills(job: Job) -> list[Path]:
    from studio.deliver.stills import write_stills

    technique, clip = job.result("technique"), _pair(job, "clip")
    if technique is None or clip is None:
        return []
    return write_stills(
        clip,
        technique,
        job.episode.settings,
        job.episode.out / "stills",
        others=job.result("bystanders"),
    )


def _short(job: Job) -> list[Path]:
    from studio.deliver.short import make_short

    out = job.episode.out / "short.mp4"
    cut = make_short(
        job.result("plan"),
        job.episode.out / "episode.mp4",
        outline=job.result("outline"),
        playhead=job.result("playhead"),
        settings=job.episode.settings,
        out=out,
        progress=job.progress,
    )
    return [out] if cut else []


def _timeline(job: Job) -> list[Path]:
    from studio.deliver.timeline import write_timeline

    path = job.episode.out / "timeline.otio"
    write_timeline(
        path,
        job.result("plan"),
        recording=job.result("recording"),
        clip=job.result("clip"),
        outline=job.result("outline"),
        title=job.episode.settings.episode.title,
    )
    return [path]


def _report(job: Job) -> list[Path]:
    from studio.deliver.report import write_report

    episode = job.episode
    path = write_report(
        episode.out / "report.html",
        job.result("plan"),
        settings=episode.settings,
        technique=job.result("technique"),
        outline=job.result("outline"),
        transcript=job.result("words"),
        playhead=job.result("playhead"),
        recording=job.result("recording"),
        clip=job.result("clip"),
        stills=sorted((episode.out / "stills").glob("*.png")),
        rendered=_sound_made(job) or {},
    )
    return [path]


def _weights(episode: Episode) -> str:
    from studio.technique.backends import chosen

    return chosen(episode.settings.clip.weights) if episode.source("clip") else ""


_SPOKEN_NAMES = ("episode.series", "episode.club", "episode.coach", "athlete.alias")

STAGES: tuple[Stage, ...] = (
    Stage("recording", 2, (), _recording, sources=("recording", "captions"),
          kind="studio.model.media:MediaFile"),
    Stage("clip", 2, (), _clip, sources=("clip",), kind="studio.model.media:MediaFile"),
    Stage("pose", 2, ("clip",), _pose, sources=("clip",), settings=("clip.weights",),
          extra=_weights, kind="studio.model.pose:PoseTrack"),
    Stage("technique", 10, ("clip", "pose"), _technique,
          settings=("clip.captured_fps", "athlete.level", "athlete.height_cm", "ranges"),
          corrections=("events", "wrong_strokes", "added_strokes", "joints", "findings"),
          kind="studio.model.technique:Technique"),
    Stage("playhead", 5, ("recording", "clip"), _playhead, sources=("recording", "clip"),
          kind="studio.model.playhead:Playhead"),
    Stage("words", 3, ("recording",), _words, sources=("recording", "captions"),
          settings=("speech", *_SPOKEN_NAMES, "episode.language"),
          kind="studio.model.speech:Transcript"),
    Stage("outline", 6, ("words", "playhead", "technique"), _outline,
          corrections=("words", "chapters", "points"),
          kind="studio.model.speech:Outline"),
    Stage("plan", 2, ("recording", "clip", "playhead", "technique", "words", "outline"), _plan,
          settings=("holds", "athlete.consent", "captions", "episode"),
          corrections=("words", "captions", "chapters", "holds"),
          kind="studio.model.plan:EditPlan"),
    Stage("listings", 1, ("plan", "outline"), _listings),
    Stage("texts", 8, ("plan", "outline", "words", "technique"), _texts,
          settings=("episode", "athlete", "captions.max_chars"), corrections=("summary",)),
    Stage("table", 1, ("technique",), _table),
    Stage("bystanders", 1, ("clip", "technique"), _bystanders, sources=("clip",),
          settings=("picture.blur_bystanders",), kind="studio.model.faces:OtherFaces"),
    Stage("stills", 4, ("clip", "technique", "bystanders"), _stills, sources=("clip",),
          settings=("athlete.consent", "episode.title", "episode.series")),
    Stage("shots", 1, ("plan",), _shots, kind="studio.model.plan:EditPlan"),
    Stage("picture", 6, ("recording", "clip", "shots", "playhead", "technique", "bystanders"),
          _picture, sources=("recording", "clip"), settings=("picture",), extra=guests_state),
    Stage("sound", 2, ("recording", "shots"), _sound, sources=("recording",),
          settings=("sound",)),
    Stage("episode", 2, ("plan", "picture", "sound"), _episode,
          settings=("episode.title", "episode.language")),
    # cut from the episode, of which it takes picture and sound, not the words in it
    Stage("short", 1, ("picture", "sound", "plan", "outline", "playhead"), _short,
          settings=("picture", "episode.series")),
    Stage("timeline", 1, ("recording", "clip", "plan", "outline"), _timeline,
          settings=("episode.title",)),
    Stage("report", 2,
          ("recording", "clip", "technique", "playhead", "words", "outline", "plan", "stills",
           "sound"),
          _report, settings=("episode", "athlete.alias", "captions")),
)  # fmt: skip
"""In the order in which they run."""
