"""A case on disk: one SQLite file, chained, signed, verified, encrypted where wanted."""
