"""The phrases of a definition: matched, sampled, compiled."""
