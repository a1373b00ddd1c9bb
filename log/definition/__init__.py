"""What a hospital writes down: kinds of entry and how they are said, limits, rules, clocks. Read, checked, compared."""
