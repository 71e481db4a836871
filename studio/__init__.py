"""Launchside: from a rowing coach's talk-over recording and an athlete's clip to an episode."""

__version__ = "0.1.0"
