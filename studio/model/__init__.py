"""Data only: what the stages hand to each other. No module here reads or writes a file."""
