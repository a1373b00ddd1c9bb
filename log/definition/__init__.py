"""The definition that a hospital writes: kinds of entry and how they are said, limits, rules, clocks. Read, checked,
compared.
"""
