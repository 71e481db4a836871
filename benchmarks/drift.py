"""Do sound and picture stay together over an hour? Flashes and clicks through a whole render.

    python -m benchmarks drift [--minutes N]

A recording of variable frame rate, its sound at 44.1 kHz, flashes and clicks together once a
minute, at times that fall on no grid. The finished episode is decoded again: how far is each click
from the start of its flash, and from where the plan puts it? Bound: 10 ms, plus the half frame that
a program's grid can move a flash by.
"""

import argparse
import tempfile
from fractions import Fraction
from pathlib import Path

import numpy as np

SIZE_PX = (192, 108)
SOUND_HZ = 44_100
CLICK_S = 0.002
FLASH_FRAMES = 3


def main(argv: list[str]) -> int:
    """Print the table."""
    made = argparse.ArgumentParser(description=__doc__)
    made.add_argument("--minutes", type=int, default=60)
    minutes = made.parse_args(argv).minutes
    with tempfile.TemporaryDirectory(prefix="drift-bench-") as name:
        source = Path(name) / "recording.mkv"
        events = _record(source, minutes)
        out = Path(name) / "out" / "episode.mp4"
        grid_s = float(1 / _render(source, out).frame_rate)
        flashes, clicks = _flashes(out), _clicks(out, events)
    print(f"{len(events)} flashes and clicks in {minutes} min; {len(flashes)} flashes found")
    print("  at, s     click against recording, ms     flash against click, frames")
    late = (clicks - events) * 1000
    apart = (flashes - clicks) / grid_s
    for row in np.unique(np.linspace(0, len(events) - 1, 7).astype(int)):
        print(f"  {events[row]:7.1f}   {late[row]:+12.2f}   {apart[row]:+26.2f}")
    print(f"  largest   {np.abs(late).max():12.2f}   {np.abs(apart).max():26.2f}")
    return int(np.abs(late).max() > 10 or np.abs(apart).max() > 1)


def _record(path: Path, minutes: int) -> np.ndarray:
    """Write the recording; returns when it flashes and clicks, seconds."""
    import av

    rng = np.random.default_rng(5)
    # a screen recorder's frames: 15 to 60 a second, on a clock of milliseconds
    steps_ms = rng.integers(17, 67, round(minutes * 60 / 0.0415))
    times_ms = np.concatenate([[0], np.cumsum(steps_ms)])
    times_ms = times_ms[times_ms < minutes * 60_000]
    wanted = np.arange(minutes) * 60_000 + rng.integers(5_000, 50_000, minutes)
    lit = np.searchsorted(times_ms, wanted)
    events = times_ms[lit] / 1000
    bright = {int(n + k) for n in lit for k in range(FLASH_FRAMES)}
    planes = [_flat(16), _flat(235)]
    with av.open(str(path), "w") as container:
        video = container.add_stream("libx264", rate=30, options={"preset": "ultrafast"})
        video.width, video.height = SIZE_PX
        video.codec_context.time_base = Fraction(1, 1000)
        audio = container.add_stream("aac", rate=SOUND_HZ, layout="mono")
        for number, time_ms in enumerate(times_ms):
            frame = planes[number in bright]
            frame.pts, frame.time_base, frame.pict_type = int(time_ms), Fraction(1, 1000), 0
            container.mux(video.encode(frame))
        container.mux(video.encode(None))
        for block in _sound(events, minutes, rng):
            container.mux(audio.encode(block))
        container.mux(audio.encode(None))
    return events


def _flat(level: int):
    import av

    frame = av.VideoFrame(*SIZE_PX, "yuv420p")
    for plane, value in zip(frame.planes, (level, 128, 128), strict=True):
        plane.update(bytes([value]) * plane.buffer_size)
    return frame


def _sound(events: np.ndarray, minutes: int, rng: np.random.Generator):
    import av

    for minute in range(minutes):
        sound = rng.normal(0, 0.002, 60 * SOUND_HZ).astype(np.float32)
        for event in events[(events >= minute * 60) & (events < (minute + 1) * 60)]:
            first = round((event - minute * 60) * SOUND_HZ)
            sound[first : first + round(CLICK_S * SOUND_HZ)] += 0.5
        block = av.AudioFrame.from_ndarray(sound[None], format="fltp", layout="mono")
        block.sample_rate, block.pts = SOUND_HZ, minute * 60 * SOUND_HZ
        block.time_base = Fraction(1, SOUND_HZ)
        yield block


def _render(source: Path, out: Path):
    from studio.config import Corrections, Settings
    from studio.deliver.finish import finish
    from studio.deliver.render import render
    from studio.deliver.sound import write_sound
    from studio.edit.planner import plan
    from studio.ingest.probe import probe
    from studio.progress import Quiet

    media, settings = probe(source), Settings()
    edit = plan(recording=media, clip=None, playhead=None, technique=None, outline=None, cues=(),
                settings=settings, corrections=Corrections())  # fmt: skip
    picture, sound = out.with_name("picture.mp4"), out.with_name("sound.m4a")
    render(edit, recording=(source, media), clip=None, playhead=None, technique=None, others=None,
           guests={}, settings=settings, out=picture, progress=Quiet())  # fmt: skip
    write_sound(edit, (source, media), target_lufs=settings.sound.loudness_lufs, out=sound)
    finish(edit, picture=picture, sound=sound, about=settings.episode, out=out)
    return edit


def _flashes(path: Path) -> np.ndarray:
    """When the picture turns bright, seconds."""
    import av

    times, light = [], []
    with av.open(str(path)) as container:
        for frame in container.decode(video=0):
            times.append(float(frame.pts * frame.time_base))
            light.append(
                memoryview(frame.planes[0])[frame.width // 2 + 20 * frame.planes[0].line_size]
            )
    bright = np.array(light) > 125
    return np.array(times)[np.flatnonzero(bright & ~np.roll(bright, 1))]


def _clicks(path: Path, events: np.ndarray) -> np.ndarray:
    """The loudest moment's beginning within a quarter of a second of each event, seconds."""
    from studio.ingest.audio import audio_blocks
    from studio.ingest.probe import probe

    media = probe(path)
    blocks = [b[:, 0] for b in audio_blocks(path, media, rate_hz=48_000, channels=1)]
    sound = np.abs(np.concatenate(blocks))
    found = []
    for event in events:
        first = max(0, round((event - 0.25) * 48_000))
        near = sound[first : first + 24_000]
        found.append((first + int(np.argmax(near > near.max() / 2))) / 48_000)
    return np.array(found)
