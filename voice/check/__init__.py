"""A minute of reading: what is not heard in this voice."""
