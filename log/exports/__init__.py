"""What the team takes away: one module per format, each a pure function from a case to text."""
