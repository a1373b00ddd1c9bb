"""Facts as they read once the clock was corrected: a case that was begun on a wrong clock is moved as a whole."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from log.facts.events import ClockCorrected, Fact


def on_the_right_clock(facts: Sequence[Fact]) -> tuple[Fact, ...]:
    """The facts, each with its times moved by all that later facts correct of it."""
    corrections = [(place, fact) for place, fact in enumerate(facts, start=1) if isinstance(fact, ClockCorrected)]
    if not corrections:
        return tuple(facts)
    return tuple(
        _moved(fact, sum(one.by_s for at, one in corrections if place <= one.moves and place < at))
        for place, fact in enumerate(facts, start=1)
    )


def _moved(fact: Fact, by_s: int) -> Fact:
    if not by_s:
        return fact
    times = {name: getattr(fact, name) for name in type(fact).model_fields}
    by = timedelta(seconds=by_s)
    return fact.model_copy(update={name: at + by for name, at in times.items() if isinstance(at, datetime)})
