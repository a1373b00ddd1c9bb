"""Meaning without a phrase book: the ideas that words stand for are laid into frames, and every word has to be explained."""
