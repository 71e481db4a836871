"""Launchside: from a rowing coach's talk-over recording and an athlete's clip to an episode."""

import os

# Matrices are small here: numpy's threads would only spin, waiting for one another, and cost a
# third of the playhead's time. Read once, when numpy is imported; the user's own choice stands.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
