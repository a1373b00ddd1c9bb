"""Values that everything else is made of: entries, patterns of entries, units, errors. Nothing here knows a tube."""
