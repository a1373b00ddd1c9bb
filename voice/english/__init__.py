"""The English language: numbers, small words, negation, and what the read-back says."""
