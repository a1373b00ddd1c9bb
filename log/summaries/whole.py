"""A case with what every export needs of it worked out once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, Protocol

from log.basics.errors import InputError
from log.definition.procedure import Procedure
from log.facts.clock import on_the_right_clock
from log.facts.definition_of import of_case
from log.facts.events import CaseOpened, EntryAsked, EntryLogged, Fact
from log.facts.line import Line
from log.facts.record import Record, fold
from log.facts.simulation import marked
from log.rules import READS
from log.rules.course import Course, course_of
from log.state.episode import Episode, episodes
from log.state.tube import Step, TubeState
from log.store.chain import Head, Link
from log.store.identifiers import Identifiers, read

Paper = Literal["a4", "letter"]


class Kept(Protocol):
    """A case as it is read from its file (log/store/case.py) or from an export."""

    @property
    def path(self) -> object:
        """Where it was read."""

    @property
    def links(self) -> tuple[Link, ...]:
        """The chained facts."""

    @property
    def facts(self) -> tuple[Fact, ...]:
        """The same without their chain."""

    @property
    def head(self) -> Head | None:
        """Their signed end."""

    @property
    def identifiers(self) -> bytes | None:
        """The newest block of identifiers, sealed."""


@dataclass(frozen=True, slots=True)
class Whole:
    """A case with all that exports and screens read of it."""

    procedure: Procedure
    opened: CaseOpened
    record: Record
    course: Course
    links: tuple[Link, ...]
    head: Head | None
    """None for a case without identity: what was taken out of it is no longer what was signed."""
    identifiers: Identifiers
    until: datetime
    """When the last fact was written down: the clocks are read at this moment."""
    deidentified: bool = False
    paper: Paper = "a4"

    @property
    def simulation(self) -> str:
        """The mark of a rehearsal, which every format has to carry; "" for a case with a patient."""
        return marked(self.opened)

    @property
    def facts(self) -> tuple[Fact, ...]:
        """The facts of `links`, with their times corrected where the clock was."""
        return on_the_right_clock([link.fact for link in self.links])

    @property
    def happened(self) -> tuple[Step, ...]:
        """The standing lines, each with what it changed."""
        return self.course.steps

    @property
    def situation(self) -> TubeState:
        """The state at the end."""
        return self.course.end.situation

    @property
    def tubes(self) -> tuple[Episode, ...]:
        """The tubes of the case, in order, each with what belonged to it."""
        return episodes(self.happened)

    def tube_at(self, moment: datetime) -> Episode:
        """The tube of that moment; the first where nothing is logged before it."""
        begun = [tube for tube in self.tubes if tube.steps and tube.steps[0].line.said_at <= moment]
        return begun[-1] if begun else self.tubes[0]

    def said(self, kind: str, *sites: str | None) -> tuple[Line, ...]:
        """The standing lines of a kind, of these sites if any are given."""
        return tuple(
            line for line in self.record.standing if line.entry.kind == kind and (not sites or line.entry.site in sites)
        )


def whole(kept: Kept, paper: Paper = "a4") -> Whole:
    """Works a case out. Raises InputError for facts that are no case."""
    facts = kept.facts
    try:
        record = fold(facts)
        for about in _lines_named(facts):
            record.line(about)
    except IndexError as error:
        raise InputError(f"{kept.path}: {error}", "check it with: tamponade verify") from None
    if record.opened is None:
        raise InputError(f"{kept.path}: the case has no opening", "restore a backup")
    procedure = of_case(facts, READS)
    return Whole(
        procedure,
        record.opened,
        record,
        course_of(procedure, record),
        kept.links,
        kept.head,
        read(kept.identifiers) if kept.identifiers is not None else Identifiers(),
        max(fact.logged_at for fact in on_the_right_clock(facts)),
        paper=paper,
    )


def _lines_named(facts: Iterable[Fact]) -> Iterator[int]:
    """The lines that facts are about, beside those that they begin: findings and notes change none, and name one."""
    for fact in facts:
        number = getattr(fact, "number", None)
        if number is not None and not isinstance(fact, EntryLogged | EntryAsked):
            yield number
