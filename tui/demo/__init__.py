"""The demo case that comes with the program: an invented placement as sound, and what was said in it as text."""
