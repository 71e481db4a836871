"""Edit plan to files: picture, sound, captions, chapters, summary, stills, report."""
