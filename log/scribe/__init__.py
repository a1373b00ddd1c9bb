"""The only writer: what was said, or corrected by hand, becomes facts."""
