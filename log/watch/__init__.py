"""What is due once the tube lies: checks, steps down, leaks."""
