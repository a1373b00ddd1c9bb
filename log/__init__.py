"""The record: what was said, what it adds up to, and which rules it breaks. No sound, no screen."""
