"""`episode.toml` and `corrections.toml`: what the coach sets and what the coach puts right."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

import cattrs
from cattrs import transform_error
from cattrs.v import format_exception

from studio.errors import ConfigError

T = TypeVar("T")
CONSENT = ("yes", "no", "unknown")
LEVELS = ("novice", "club", "elite")
WEIGHTS = ("auto", "full", "heavy")
PRESETS = (
    "ultrafast", "superfast", "veryfast", "faster", "fast", "medium", "slow", "slower", "veryslow",
)  # fmt: skip
"""Of the encoder x264, quickest first."""
MAX_BYTES = 1 << 20
"""No settings file a person writes is larger; a larger one is a mistake or an attack."""


@dataclass(frozen=True, slots=True)
class About:
    """The episode's place in the series."""

    title: str = ""
    series: str = ""
    club: str = ""
    coach: str = ""
    number: int = 0
    language: str = "en"


@dataclass(frozen=True, slots=True)
class Sources:
    """Files, relative to the episode folder or absolute; empty = there is none."""

    recording: str = ""
    clip: str = ""
    captions: str = ""


@dataclass(frozen=True, slots=True)
class Athlete:
    """Who rows. `consent`: "yes", "no" or "unknown" (to show the face)."""

    alias: str = ""
    height_cm: float = 0.0
    consent: str = "unknown"
    under_18: bool = False
    level: str = "club"


@dataclass(frozen=True, slots=True)
class ClipSettings:
    """How the clip was taken. `captured_fps` 0 = as the file says."""

    captured_fps: float = 0.0
    weights: str = "auto"


@dataclass(frozen=True, slots=True)
class SpeechSettings:
    """`model`: "base", "tiny.en" or a local faster-whisper model folder."""

    model: str = "base"
    repairs: bool = True


@dataclass(frozen=True, slots=True)
class CaptionSettings:
    """`max_chars` a line: 37 (BBC Subtitle Guidelines) or 42."""

    max_chars: int = 37


@dataclass(frozen=True, slots=True)
class HoldSettings:
    """Inserted holds: how long, and whether to insert any where the coach plays on."""

    seconds: float = 2.5
    insert: bool = True


@dataclass(frozen=True, slots=True)
class SoundSettings:
    """Loudness of the program, LUFS."""

    loudness_lufs: float = -14.0


@dataclass(frozen=True, slots=True)
class PictureSettings:
    """Encoding of the program, and whether bystanders' faces are blurred."""

    crf: int = 20
    preset: str = "veryfast"
    blur_bystanders: bool = True


@dataclass(frozen=True, slots=True)
class Settings:
    """All of `episode.toml`. `ranges`: measure -> "low", "high", overriding the built-in ones."""

    episode: About = field(default_factory=About)
    sources: Sources = field(default_factory=Sources)
    athlete: Athlete = field(default_factory=Athlete)
    clip: ClipSettings = field(default_factory=ClipSettings)
    speech: SpeechSettings = field(default_factory=SpeechSettings)
    captions: CaptionSettings = field(default_factory=CaptionSettings)
    holds: HoldSettings = field(default_factory=HoldSettings)
    sound: SoundSettings = field(default_factory=SoundSettings)
    picture: PictureSettings = field(default_factory=PictureSettings)
    ranges: dict[str, dict[str, float]] = field(default_factory=dict)

    def check(self, where: str) -> None:
        """Refuse values out of their range, all told at once. Raises: ConfigError."""
        athlete, clip, holds = self.athlete, self.clip, self.holds
        rules = {
            'athlete.consent must be "yes", "no" or "unknown"': athlete.consent in CONSENT,
            'athlete.level must be "novice", "club" or "elite"': athlete.level in LEVELS,
            "athlete.height_cm must be 0 (unknown) or 100 to 230": athlete.height_cm == 0
            or 100 <= athlete.height_cm <= 230,
            "clip.captured_fps must be 0 (as the file says) or 1 to 2000": clip.captured_fps == 0
            or 1 <= clip.captured_fps <= 2000,
            f"clip.weights must be one of {', '.join(WEIGHTS)}": clip.weights in WEIGHTS,
            "captions.max_chars must be 20 to 60": 20 <= self.captions.max_chars <= 60,
            "holds.seconds must be 0.5 to 10": 0.5 <= holds.seconds <= 10,
            "sound.loudness_lufs must be -40 to -10": -40 <= self.sound.loudness_lufs <= -10,
            "picture.crf must be 0 to 40": 0 <= self.picture.crf <= 40,
            f"picture.preset must be one of {', '.join(PRESETS)}": self.picture.preset in PRESETS,
            "sources must name a recording or a clip": bool(
                self.sources.recording or self.sources.clip
            ),
        }
        broken = [rule for rule, holds in rules.items() if not holds]
        if broken:
            raise ConfigError(f"{where}: " + "; ".join(broken) + ".")


@dataclass(frozen=True, slots=True)
class MovedEvent:
    """A catch or finish put right; clip time."""

    event: str
    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class WrongStroke:
    """A stroke that is none; clip time of its catch."""

    catch_s: float


@dataclass(frozen=True, slots=True)
class AddedStroke:
    """A stroke that was missed; clip time. What was seen of it gives way."""

    catch_s: float
    finish_s: float


@dataclass(frozen=True, slots=True)
class MovedJoint:
    """A point of the body put right on one frame; clip time, clip pixels."""

    clip_s: float
    joint: str
    x_px: float
    y_px: float


@dataclass(frozen=True, slots=True)
class WordFix:
    """A misheard word or phrase, wherever it occurs in the transcript."""

    heard: str
    text: str


@dataclass(frozen=True, slots=True)
class CaptionFix:
    """One caption put right.

    `recording_s` is the start of the cue as made; the rest changes it (None = as it was).
    A new line in `text` begins a caption of its own. `join_next` merges it with the next, which may
    join its own next. `split_at` is the number of characters after which it is cut in two.
    """

    recording_s: float
    text: str | None = None
    start_s: float | None = None
    end_s: float | None = None
    split_at: int | None = None
    join_next: bool = False


@dataclass(frozen=True, slots=True)
class ChapterFix:
    """A chapter put right; recording time. `action`: "rename", "move", "add" or "remove"."""

    action: str
    recording_s: float
    title: str = ""
    to_s: float | None = None


@dataclass(frozen=True, slots=True)
class HoldFix:
    """A hold put right; recording time.

    `action`: "move", "lengthen", "drop", "add", or "compare": a hold at `recording_s` that shows
    the clip moment on screen then beside the one on screen at `to_s`, or beside the best catch or
    finish of the episode in the folder `other` (relative to this one).
    """

    action: str
    recording_s: float
    phase: str = ""
    seconds: float | None = None
    to_s: float | None = None
    other: str = ""


@dataclass(frozen=True, slots=True)
class FindingVerdict:
    """The coach's word on a finding: "accept" or "reject"."""

    code: str
    verdict: str


@dataclass(frozen=True, slots=True)
class PointVerdict:
    """The coach's word on a talking point, by kind and the start of its span; recording time."""

    kind: str
    recording_s: float
    verdict: str


@dataclass(frozen=True, slots=True)
class SummaryFix:
    """Texts that replace what would be written; empty = as made."""

    description: str = ""
    markdown: str = ""
    post: str = ""


@dataclass(frozen=True, slots=True)
class Corrections:
    """All of `corrections.toml`. Only the coach (or the desk, for the coach) writes it."""

    events: tuple[MovedEvent, ...] = ()
    wrong_strokes: tuple[WrongStroke, ...] = ()
    added_strokes: tuple[AddedStroke, ...] = ()
    joints: tuple[MovedJoint, ...] = ()
    words: tuple[WordFix, ...] = ()
    captions: tuple[CaptionFix, ...] = ()
    chapters: tuple[ChapterFix, ...] = ()
    holds: tuple[HoldFix, ...] = ()
    findings: tuple[FindingVerdict, ...] = ()
    points: tuple[PointVerdict, ...] = ()
    summary: SummaryFix = field(default_factory=SummaryFix)

    def check(self, where: str) -> None:
        """Refuse what cannot be. Raises: ConfigError."""
        for k, stroke in enumerate(self.added_strokes, 1):
            if not 0 <= stroke.catch_s < stroke.finish_s:
                raise ConfigError(
                    f"{where}: the finish of added_strokes number {k} must come after its catch."
                )


def read_toml(path: Path, kind: type[T]) -> T:
    """Read a TOML file as `kind`; unknown names and wrong types are errors, all told at once.

    Raises:
        ConfigError: Missing, unreadable, too large, no TOML, or not of `kind`.
    """
    try:
        data = path.read_bytes()
        if len(data) > MAX_BYTES:
            raise ConfigError(f"{path}: larger than 1 MiB.", "No settings file is; check the file.")
        plain = tomllib.loads(data.decode("utf-8"))
    except OSError as error:
        raise ConfigError(f"{path}: cannot be read ({error.strerror}).") from error
    except (ValueError, RecursionError) as error:
        raise ConfigError(f"{path}: not valid TOML ({error}).", "Mend that line.") from error
    return structure(plain, kind, str(path))


def structure(plain: object, kind: type[T], where: str) -> T:
    """Plain values as `kind`. Raises: ConfigError, naming `where` and every trouble."""
    converter = cattrs.Converter(forbid_extra_keys=True)
    for scalar in (str, bool):
        converter.register_structure_hook(scalar, _exactly(scalar))
    converter.register_structure_hook(int, _number(int))
    converter.register_structure_hook(float, _number(float))
    try:
        return converter.structure(plain, kind)
    except (cattrs.BaseValidationError, cattrs.StructureHandlerNotFoundError, TypeError) as error:
        told = transform_error(error, format_exception=_told)
        raise ConfigError(f"{where}: " + "; ".join(told) + ".") from error


def _told(error: BaseException, kind: type | None) -> str:
    """Our own words for a value, cattrs' for all else."""
    ours = isinstance(error, ValueError) and str(error).startswith("wanted ")
    return str(error) if ours else format_exception(error, kind)


def _exactly(kind: type) -> Callable[[Any, Any], Any]:
    def check(value: Any, _: Any) -> Any:
        if not isinstance(value, kind):
            raise ValueError(f"wanted {kind.__name__}, got {value!r:.60}")
        return value

    return check


def _number(kind: type[int] | type[float]) -> Callable[[Any, Any], Any]:
    def check(value: Any, _: Any) -> Any:
        if isinstance(value, bool) or not isinstance(value, (int, kind)):
            raise ValueError(f"wanted a number, got {value!r:.60}")
        if not math.isfinite(value):
            raise ValueError(f"wanted a finite number, got {value!r:.60}")
        return kind(value)

    return check


def load_settings(episode: Path) -> Settings:
    """`episode.toml` of an episode folder, checked. Raises: ConfigError."""
    path = episode / "episode.toml"
    settings = read_toml(path, Settings)
    settings.check(str(path))
    return settings


def load_corrections(episode: Path) -> Corrections:
    """`corrections.toml` of an episode folder; empty where there is none. Raises: ConfigError."""
    path = episode / "corrections.toml"
    if not path.exists():
        return Corrections()
    corrections = read_toml(path, Corrections)
    corrections.check(str(path))
    return corrections
