"""The speech engines, each alone in its own process, and their models."""
