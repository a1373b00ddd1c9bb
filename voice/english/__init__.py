"""The English language: numbers, small words, negation."""
