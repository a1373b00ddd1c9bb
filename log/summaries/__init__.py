"""A whole case worked out once: for the next team, for the debrief, for every export."""
