"""The read-back aloud."""
