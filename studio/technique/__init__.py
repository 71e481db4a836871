"""Clip to findings: pose, strokes, angles, measures."""
