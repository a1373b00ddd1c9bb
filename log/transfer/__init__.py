"""The balloons at a cabin altitude, and what a transfer needs."""
