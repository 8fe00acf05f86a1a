"""Template helps."""
