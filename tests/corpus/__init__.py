"""Media as it comes: every kind of file a coach may be sent, with the outcome it must have."""
