"""Entries, findings and totals in the words that people read."""
