"""HLG and PQ pictures to ordinary range, as one colour table that libavfilter's lut3d applies.

Steps (ITU-R BT.2100-2 tables 4 and 5; BT.2408-7: diffuse white at 203 cd/m2; BT.2087-0 for the
primaries; BT.1886 for the display): signal to display light, primaries to BT.709, a soft knee for
what is brighter than white, display light to signal.
"""

from __future__ import annotations

import atexit
import functools
import os
import tempfile
from pathlib import Path

import numpy as np

from studio.model.arrays import Array

WHITE_NITS = 203.0
KNEE = 0.8
"""Light up to here (white = 1) is left as it is; above it rolls off toward 1."""
NODES = 33
_TO_709 = np.array(
    [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]]
)
"""Linear BT.2020 to BT.709, ITU-R BT.2087-0 (inverse of its table)."""


def pq_light(signal: Array) -> Array:
    """SMPTE ST 2084 signal, 0-1, to cd/m2 (BT.2100-2 table 4)."""
    m1, m2 = 2610 / 16384, 2523 / 4096 * 128
    c1, c2, c3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    root = np.power(signal, 1 / m2)
    light: Array = 10000 * np.power(np.maximum(root - c1, 0) / (c2 - c3 * root), 1 / m1)
    return light


def hlg_light(signal: Array) -> Array:
    """HLG signal, (..., 3), 0-1, to cd/m2 on a 1000 cd/m2 display (BT.2100-2 table 5)."""
    a, b, c = 0.17883277, 0.28466892, 0.55991073
    scene = np.where(signal <= 0.5, signal**2 / 3, (np.exp((signal - c) / a) + b) / 12)
    luminance = scene @ np.array([0.2627, 0.6780, 0.0593])
    display: Array = 1000 * scene * np.power(np.maximum(luminance, 1e-9), 0.2)[..., None]
    return display


def to_sdr(signal: Array, transfer: str) -> Array:
    """(..., 3) RGB signal, 0-1, in BT.2020 primaries to a BT.709 signal, 0-1."""
    nits = pq_light(signal) if transfer == "pq" else hlg_light(signal)
    light = np.maximum(nits / WHITE_NITS @ _TO_709.T, 0)
    peak = light.max(axis=-1, keepdims=True)
    above = np.maximum(peak - KNEE, 0)
    rolled = np.minimum(peak, KNEE) + (1 - KNEE) * (1 - np.exp(-above / (1 - KNEE)))
    light = light * rolled / np.maximum(peak, 1e-9)  # scaling all three keeps the hue
    out: Array = np.clip(light, 0, 1) ** (1 / 2.4)
    return out


@functools.cache
def table_file(transfer: str) -> Path:
    """A .cube file of `to_sdr`, made once a process and deleted at its end."""
    axis = np.linspace(0, 1, NODES)
    blue, green, red = np.meshgrid(axis, axis, axis, indexing="ij")  # red runs fastest in .cube
    rows = to_sdr(np.stack([red, green, blue], axis=-1).reshape(-1, 3), transfer)
    handle, name = tempfile.mkstemp(suffix=".cube")
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(f"LUT_3D_SIZE {NODES}\n")
        np.savetxt(file, rows, fmt="%.6f")
    path = Path(name)
    atexit.register(path.unlink, missing_ok=True)
    return path
