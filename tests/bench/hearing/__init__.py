"""How well entries are heard: every engine alone, and all together as the log uses them."""
