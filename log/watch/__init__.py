"""The watch over a placed tube: checks due, steps down, leaks."""
