"""Everything to edit plan: shots, holds, overlays on program time."""
