"""What can go wrong, each with the exit code the command line gives.

LaunchsideError
├── MediaError      3  a file cannot be read
├── EvidenceError   4  it does not show what is needed (no rower, clip never on screen)
├── ToolError       5  a tool or model is missing
├── OutputError     6  cannot write
├── ConfigError     7  bad settings
├── PlanError       8  an edit plan that contradicts itself
└── StallError      9  work that no longer moves
"""

from __future__ import annotations


class LaunchsideError(Exception):
    """Base of every expected failure.

    Args:
        message: What is wrong and where, naming the file; one line.
        hint: What the coach can do about it; one line, may be empty.
    """

    exit_code = 1

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message, hint)  # both in args, so that the error survives pickling
        self.message = message
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.message} {self.hint}".strip().replace("\n", " ")


class MediaError(LaunchsideError):
    """A media, caption or model file cannot be read."""

    exit_code = 3


class EvidenceError(LaunchsideError):
    """The files can be read but do not show what the work needs."""

    exit_code = 4


class ToolError(LaunchsideError):
    """A program, package or model is missing."""

    exit_code = 5


class OutputError(LaunchsideError):
    """A result cannot be written."""

    exit_code = 6


class ConfigError(LaunchsideError):
    """`episode.toml`, `corrections.toml` or an option holds something it must not."""

    exit_code = 7


class PlanError(LaunchsideError):
    """The edit plan contradicts itself or its media."""

    exit_code = 8


class StallError(LaunchsideError):
    """Work that no longer moves was stopped."""

    exit_code = 9

    def __init__(self, message: str = "", hint: str = "") -> None:
        super().__init__(message, hint)
