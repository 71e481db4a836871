"""Many episodes: made in one go, taken in as clips arrive, and told as a season."""
