"""Accuracy and speed, measured: `python -m benchmarks NAME`."""

import studio  # noqa: F401 - before numpy, whose threads it sets as in use
