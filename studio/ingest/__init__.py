"""Files in: what a media file is, its frames and its sound."""
