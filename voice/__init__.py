"""Hearing: sound comes in, entries of the procedure come out."""
