"""Sound to case to screen while somebody speaks, plays a recording or rehearses."""
