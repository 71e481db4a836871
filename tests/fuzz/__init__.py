"""Fuzzing of the text readers; not part of the tests."""
