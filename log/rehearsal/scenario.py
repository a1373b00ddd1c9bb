"""A scenario as a trainer writes it: a story, an invented patient, what happens when, and what the team is expected to
log.

Patient, times and numbers of a scenario are invented and say nothing about how anybody bleeds. What is a limit, an
order or a step stands in the definition of the procedure alone; a scenario only refers to it.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from log.basics.patterns import Identifier, Part, Pattern

Seconds = Annotated[float, Field(ge=0, le=200_000)]
"""Seconds of the case's own clock, which may be compressed."""

LONGEST_TOLD = 150
"""Characters of an event: two lines on the narrowest screen."""


class Patient(Part):
    """The hidden state, as little of it as is needed. None of its numbers is clinical."""

    mark_cm: Annotated[float, Field(ge=10, le=80)]
    """The mark at the lips once traction is on, until an event sets another."""
    mmhg_per_ml: Annotated[float, Field(gt=0, le=10)]
    """By how much each millilitre raises the pressure of the oesophageal balloon."""
    held_from_mmhg: Annotated[float, Field(ge=0, le=99)] | None = None
    """Bleeding stops while the oesophageal pressure is at least this, and begins again below; None: it never does."""
    held_by_traction: bool = False
    """Whether traction alone stops the bleeding."""


class Sets(Part):
    """Changes of the patient by an event."""

    mark_cm: Annotated[float, Field(ge=10, le=80)] | None = None
    leak_mmhg_per_h: Annotated[float, Field(ge=0, le=600)] | None = None
    """The oesophageal pressure falls by this much an hour of the case from here on, while the balloon is up."""


class Shown(Part):
    """A value that the team can read off, as the entry by which it is logged."""

    kind: Identifier
    site: Identifier | None = None
    value: float | str
    """A number, a word, or one of the patient's: "{pressure}", "{mark}", "{bleeding}"."""
    unit: str | None = None


class Trigger(Part):
    """The trigger of an event: an entry, a milestone of the definition, or another event."""

    entry: Pattern | None = None
    milestone: Identifier | None = None
    event: Identifier | None = None

    @model_validator(mode="after")
    def _is_one_thing(self) -> Trigger:
        if sum(part is not None for part in (self.entry, self.milestone, self.event)) != 1:
            raise ValueError("name one of entry, milestone and event")
        return self


class Event(Part):
    """Something that happens, once unless `each`."""

    id: Identifier
    tell: str = Field(min_length=1, max_length=LONGEST_TOLD)
    """The event as the team sees and hears it. "{pressure}", "{mark}" and "{bleeding}" are the patient's then."""
    at: Seconds | None = None
    """Since the start."""
    after: Trigger | None = None
    delay: Seconds = 0
    """After what it waits for."""
    since: Identifier | None = None
    """Only what is logged or reached once that event was played starts it."""
    unless: tuple[Pattern, ...] = ()
    """It does not happen if one of these is in the log by then."""
    unless_event: Identifier | None = None
    """It does not happen once that event was played."""
    each: bool = False
    """It happens after every such entry, not only after the first."""
    hidden: bool = False
    """Hidden from the team; the record has it for the debrief."""
    shows: tuple[Shown, ...] = ()
    sets: Sets | None = None
    speed: Annotated[float, Field(ge=1, le=240)] | None = None
    """From here on the case's clock runs so many times as fast: 60 makes a minute an hour."""
    ends: bool = False
    """The rehearsal is over."""

    @model_validator(mode="after")
    def _begins_in_one_way(self) -> Event:
        if (self.at is None) == (self.after is None):
            raise ValueError("say when: either at or after")
        if self.each and (self.after is None or self.after.entry is None):
            raise ValueError("each needs an entry to come after")
        return self


class Wanted(Part):
    """An entry that has to be in the log."""

    id: Identifier
    title: str
    entry: tuple[Pattern, ...] = Field(min_length=1)
    """One of these."""
    say: str
    """An example of how it is said; the number is the one of the run that the scenario was tried with."""
    since: Identifier | None = None
    """Only what was said once that event was played counts."""
    until: Identifier | None = None
    """Only what was said before that event was played counts."""
    follows: Identifier | None = None
    """Only what was said after that wanted entry counts, which stands further up."""
    only_if: Identifier | None = None
    """Wanted only if that event was played."""
    within: Seconds | None = None
    """The scenario's own target, from the start or from `since`: no clinical one."""
    shown: Identifier | None = None
    """The value has to be the one that this event showed last."""


class InOrder(Part):
    """One wanted entry before another."""

    first: Identifier
    then: Identifier
    why: str


class Never(Part):
    """An error to count: a finding of this rule, or this entry."""

    rule: Identifier | None = None
    entry: Pattern | None = None
    since: Identifier | None = None
    """From this event on."""
    until: Identifier | None = None
    """Up to this event."""
    why: str

    @model_validator(mode="after")
    def _is_one_thing(self) -> Never:
        if (self.rule is None) == (self.entry is None):
            raise ValueError("name either a rule or an entry")
        return self


class Answer(Part):
    """The answer to a finding that the log cannot settle by itself: a wanted entry said after it."""

    rule: Identifier
    by: Identifier


class Scenario(Part):
    """One whole scenario."""

    id: Identifier
    title: str = Field(min_length=1, max_length=60)
    story: str
    """Read to the team before it begins."""
    procedure: str
    """The definition by which it is logged: a shipped one by name."""
    beyond_limits: str = ""
    """The numbers that lie outside the definition's limits, and why; "" where none does."""
    patient: Patient
    event: tuple[Event, ...] = Field(min_length=1)
    wanted: tuple[Wanted, ...] = Field(min_length=1)
    in_order: tuple[InOrder, ...] = ()
    never: tuple[Never, ...] = ()
    answer: tuple[Answer, ...] = ()

    def event_named(self, name: str) -> Event | None:
        """The event with this id."""
        return next((event for event in self.event if event.id == name), None)

    def wanted_named(self, name: str) -> Wanted | None:
        """The wanted entry with this id."""
        return next((wanted for wanted in self.wanted if wanted.id == name), None)
