"""What an athlete says of a clip: `CLIP.mp4.toml` (or `CLIP.toml`) beside it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from studio.config import CONSENT, Athlete, ClipSettings, Settings, Sources, read_toml
from studio.errors import ConfigError
from studio.season.folders import printable

SUFFIX = ".toml"


@dataclass(frozen=True, slots=True)
class Sidecar:
    """What is told of a clip. What is left out is not known; consent not given is no consent.

    Attributes:
        alias: The name to use for the athlete.
        consent: "yes" = agreed to be shown with the face.
        height_cm: 0 = not known.
        level: "novice", "club" or "elite".
        under_18: Then a guardian must agree as well, to anything being made of the clip.
        guardian_consent: "yes" = agreed.
        captured_fps: Frames a second at capture, for slow motion; 0 = as the file says.
    """

    alias: str = ""
    consent: str = "no"
    height_cm: float = 0.0
    level: str = "club"
    under_18: bool = False
    guardian_consent: str = "no"
    captured_fps: float = 0.0

    @property
    def may_be_used(self) -> bool:
        """Nothing is made of the clip of someone under 18 without a guardian's yes."""
        return not self.under_18 or self.guardian_consent == "yes"

    @property
    def may_be_shown(self) -> bool:
        """Whether the face may be seen."""
        return self.consent == "yes" and self.may_be_used

    def settings(self, clip: str = "clip", weights: str = "auto") -> Settings:
        """The settings of an episode of the clip."""
        return Settings(
            sources=Sources(clip=clip),
            athlete=Athlete(
                self.alias,
                self.height_cm,
                "yes" if self.may_be_shown else "no",
                self.under_18,
                self.level,
            ),
            clip=ClipSettings(self.captured_fps, weights),
        )

    def check(self, where: str) -> None:
        """Refuse values out of their range. Raises: ConfigError."""
        rules = {
            'consent must be "yes", "no" or "unknown"': self.consent in CONSENT,
            'guardian_consent must be "yes", "no" or "unknown"': self.guardian_consent in CONSENT,
            "alias must be one line of at most 60 letters": self.alias == printable(self.alias, 60),
        }
        broken = [rule for rule, holds in rules.items() if not holds]
        if broken:
            raise ConfigError(f"{where}: " + "; ".join(broken) + ".")
        self.settings().check(where)


def beside(clip: Path) -> Path | None:
    """The sidecar of a clip: of its whole name, or of its name without ending.

    Raises:
        ConfigError: `a.toml` could belong to `a.mp4` as well as to `a.mov`.
    """
    whole, short = clip.with_name(clip.name + SUFFIX), clip.with_suffix(SUFFIX)
    if _is_file(whole):
        return whole
    if not _is_file(short):
        return None
    others = [
        p for p in clip.parent.iterdir() if p.stem == clip.stem and p not in (clip, short)
        and not p.name.startswith(".")
    ]  # fmt: skip
    if others:
        raise ConfigError(
            f"{short}: could belong to {clip.name} or to {others[0].name}.",
            f"Rename it to {whole.name}.",
        )
    return short


def _is_file(path: Path) -> bool:
    """A regular file; a link could lead anywhere."""
    return path.is_file() and not path.is_symlink()


def read(path: Path | None) -> Sidecar:
    """A sidecar; without one nothing is known, nothing agreed. Raises: ConfigError."""
    if path is None:
        return Sidecar()
    sidecar = read_toml(path, Sidecar)
    sidecar.check(str(path))
    return sidecar
