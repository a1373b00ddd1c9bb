"""Meaning without a phrase book: ideas that words stand for are laid into frames, and every word is explained."""
