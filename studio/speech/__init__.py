"""Recording to words: transcript, captions, chapters, talking points."""
