"""The coach's desk: a local web page to check, correct and finish an episode."""
