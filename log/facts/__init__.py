"""Facts, and the record they add up to. A fact is never changed; a correction is one more fact."""
