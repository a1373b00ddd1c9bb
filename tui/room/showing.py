"""The state of the room's page beyond the case itself: what the ear is doing, what is being said, what was not
understood, and which line is read back.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from types import MappingProxyType

from log.facts.events import (
    AboutALine,
    EntryAsked,
    EntryLogged,
    Fact,
    NotUnderstoodHeard,
    SimulationPlayed,
)
from log.facts.record import Record
from log.rules.course import Course
from tui.live.view import State
from tui.views.bedside import Bedside, bedside
from tui.views.emergency import EmergencyAtAGlance
from tui.views.hero import Hero, Moment, No, Trouble, hero
from tui.views.last_entry import LastEntry, last_entry
from tui.views.watch import Attending

NOT_HEARD: Mapping[State, No] = MappingProxyType({"lost": "NO SOUND", "stopped": "NOT LISTENING"})
"""States of the ear that everybody has to know of."""


class Showing:
    """The case as far as the screen knows it, with what is heard just now."""

    def __init__(self, record: Record, course: Course) -> None:
        self.record, self.course = record, course
        self.ear: State = "starting"
        self.why = ""
        """Why the ear is in this state, where that has to be said."""
        self.unsaved = ""
        """The number of facts that wait to be written, and why; "" while the disk takes everything."""
        self.db, self.clipped = -100.0, False
        self.partial = self.missed = ""
        """Words being said; words not understood just before."""
        self._touched: int | None = None
        """The line that is read back; None for the newest."""

    def grown(self, facts: tuple[Fact, ...], record: Record, course: Course) -> None:
        """The case with new facts. What is only played in a rehearsal hides nothing that was missed."""
        self.record, self.course = record, course
        if not all(isinstance(fact, SimulationPlayed) for fact in facts):
            self.partial = self.missed = ""
        for fact in facts:
            if isinstance(fact, NotUnderstoodHeard):
                self.missed = f'NOT LOGGED: "{fact.origin.heard}" ({fact.reason})'
        *_, self._touched = (self._touched, *touched(facts))
        question = record.open_question
        asked = any(isinstance(fact, EntryAsked) for fact in facts)
        if question is not None and (asked or of_an_emergency(facts)):
            self._touched = question.number  # it waits for an answer: before what was logged in the same breath

    def said(self, words: str) -> bool:
        """Notes words being said; False if they were known."""
        if (self.partial, self.missed) == (words, ""):
            return False
        self.partial, self.missed = words, ""
        return True

    def turn_to_the_newest(self) -> None:
        """Reads back the newest line."""
        self._touched = None

    def bedside(self, now: datetime) -> Bedside:
        """How things stand."""
        return bedside(self.course, self.record, now, hearing=self.ear == "hearing")

    def hero(self, now: datetime, emergency: EmergencyAtAGlance | None, watch: Attending | None) -> Hero:
        """The thing that matters now."""
        return hero(
            Moment(
                course=self.course,
                record=self.record,
                now=now,
                emergency=emergency,
                trouble=self._trouble,
                paused=self.why if self.ear == "paused" else "",
                missed=self.missed,
                line=self._touched,
                watch=watch,
                hearing=self.ear == "hearing",
            )
        )

    @property
    def _trouble(self) -> Trouble | None:
        """A disk that refuses facts comes first: that nothing is heard stands beside the state of the ear as well."""
        if self.unsaved:
            return Trouble("NOT SAVING", self.unsaved)
        no = NOT_HEARD.get(self.ear)
        return Trouble(no, self.why) if no is not None else None

    @property
    def newest(self) -> LastEntry | None:
        """The newest line, whatever waits for an answer."""
        return last_entry(self.course, self.record, len(self.record.lines) or None)

    @property
    def just_heard(self) -> str:
        """Words being said or not understood, with their sign."""
        return f"… {self.partial}" if self.partial else f"✘ {self.missed}" if self.missed else ""


def touched(facts: Iterable[Fact]) -> Iterator[int]:
    """The lines that these facts are about, in order."""
    for fact in facts:
        if isinstance(fact, AboutALine):
            yield fact.number


def of_an_emergency(facts: Iterable[Fact]) -> bool:
    """Whether an emergency was called or ended by these facts."""
    return any(isinstance(fact, EntryLogged) and fact.entry.kind == "emergency" for fact in facts)


def not_understood(facts: Iterable[Fact]) -> bool:
    """Whether something meant for the log made no entry."""
    return any(isinstance(fact, NotUnderstoodHeard) for fact in facts)


def played(facts: Iterable[Fact]) -> bool:
    """Whether something was played to the team of a rehearsal."""
    return any(isinstance(fact, SimulationPlayed) and not fact.hidden for fact in facts)
