"""A case that was begun on a wrong clock is moved as a whole, by a fact that says by how much, why, and who says so."""

from __future__ import annotations

from collections.abc import Sequence

from log.basics.errors import InputError
from log.definition.procedure import Procedure
from log.facts.clock import on_the_right_clock
from log.facts.events import CaseResumed, ClockCorrected, EntryAsked, EntryLogged, Fact
from log.facts.record import fold
from log.rules.course import course_of
from log.scribe.correct import Correction, explained
from log.scribe.decided import Decided, rechecked

FIRST_YEAR = 1991
"""Times before it cannot be facts, in whichever zone."""


def correction(facts: Sequence[Fact], by_s: int, who: Correction) -> ClockCorrected:
    """The fact that moves what was recorded so far by these seconds. Raises InputError for a shift into the future:
    then it is this machine's clock that is wrong."""
    explained(who)
    last = _last(facts)
    undoes = last is not None and by_s == -last.by_s
    fact = ClockCorrected(
        logged_at=who.at, by_s=by_s, moves=_moves(facts, last, undoes), reason=who.reason, author=who.author
    )
    moved = on_the_right_clock((*facts, fact))
    latest = max(one.logged_at for one in moved[: fact.moves])
    if latest > who.at and not undoes:
        raise InputError(
            f"the last fact would be of {latest.isoformat(sep=' ', timespec='seconds')}, which has not come yet",
            "set this machine's clock first; see which way the case has to move",
        )
    if moved[0].logged_at.year < FIRST_YEAR:
        raise InputError("no case was begun that long ago", "check --by")
    return fact


def moved(procedure: Procedure, facts: Sequence[Fact], here: CaseResumed, corrected: ClockCorrected) -> Decided:
    """The case on its new clock, resumed for that alone, with what the rules say of it now."""
    record = fold((*facts, here, corrected))
    new = rechecked(course_of(procedure, record), record, (), corrected.logged_at)
    return Decided((here, corrected, *new.facts), new.record, new.course)


def _last(facts: Sequence[Fact]) -> ClockCorrected | None:
    return next((fact for fact in reversed(facts) if isinstance(fact, ClockCorrected)), None)


def _moves(facts: Sequence[Fact], last: ClockCorrected | None, undoes: bool) -> int:
    """All facts so far; or those that the last correction moved, where this one takes it back, or nothing was logged
    since: what was written down then is of a clock that was set already."""
    if last is None:
        return len(facts)
    since = facts[facts.index(last) :]
    logged = any(isinstance(fact, EntryLogged | EntryAsked) for fact in since)
    return len(facts) if logged and not undoes else last.moves
