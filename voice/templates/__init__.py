"""The language in which phrases are written, and the grammars made of it."""
