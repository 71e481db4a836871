"""Recording and clip to playhead: which clip moment is on screen, and where."""
