"""Hearings become one meaning: log it, ask, or leave it."""
