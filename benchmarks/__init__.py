"""Accuracy and speed, measured: `python -m benchmarks NAME`."""
