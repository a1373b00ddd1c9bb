"""The one reading of the lead word: it comes first, or after hesitations ("um, log gastric in fifty").

Only this module demands it; no grammar does. Were it a must in the grammar, an entry that somebody says to somebody
else would be heard as if the lead word had been there: 47 of 119 clips without it were logged so, against 1 where it
is wanted here alone (tests/bench/lead_word.py). So one set of engines serves every way of saying entries, and changing
the way costs nothing.
"""

from __future__ import annotations

from log.definition.procedure import Procedure

Words = tuple[str, ...]


def after_hesitations(procedure: Procedure, words: Words) -> Words:
    """The words from the first on that says something; none if all are hesitations."""
    hesitations = set(procedure.fillers) - {procedure.lead_word}
    return next((words[place:] for place, word in enumerate(words) if word not in hesitations), ())


def after_lead_word(procedure: Procedure, words: Words, lead_word: str) -> Words | None:
    """Words after the lead word; None where the log was not spoken to."""
    first, *rest = after_hesitations(procedure, words) or ("",)
    return tuple(rest) if first == lead_word else None
