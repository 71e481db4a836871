"""The array type of the data classes."""

from __future__ import annotations

from typing import Any

import numpy.typing as npt

Array = npt.NDArray[Any]
"""A numpy array; shape, dtype, unit and NaN rule stand in the owner's docstring."""

__all__ = ["Array"]
