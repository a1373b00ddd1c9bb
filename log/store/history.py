"""The history of a case: whether its facts can have come about in this order, at these times, with this definition, and
whether each key had signed what the next one went on from.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from log.basics.visible import visible
from log.facts.events import CaptureGap, CaseOpened, CaseResumed, ClockCorrected, EntryAsked, EntryLogged
from log.store.chain import Link, fingerprint, vouched

ROUNDING = timedelta(seconds=1)
"""Sessions begin on a whole second."""


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that is not as it was written."""

    what: str
    fact: int | None = None
    """The number of the fact, or None if it is not about one."""

    def __str__(self) -> str:
        return visible(f"fact {self.fact}: {self.what}" if self.fact is not None else self.what, 300)


def check_facts(links: list[Link]) -> Iterator[Problem]:
    """Whether the facts can have come about in this order, at these times, with this definition."""
    if not links:
        yield Problem("there are no facts")
        return
    opened = links[0].fact
    if not isinstance(opened, CaseOpened):
        yield Problem("is not the opening of a case", links[0].seq)
        return
    if fingerprint(opened.definition) != opened.definition_sha256:
        yield Problem("the copy of the definition is not the one that was in force", links[0].seq)
    yield from _order(links)
    yield from _times(links)
    yield from _hand_overs(links, opened.case)


def _order(links: list[Link]) -> Iterator[Problem]:
    lines = 0
    for link in links[1:]:
        fact = link.fact
        if isinstance(fact, CaseOpened):
            yield Problem("opens the case a second time", link.seq)
        if isinstance(fact, EntryLogged | EntryAsked):
            lines += 1
            if fact.number != lines:
                yield Problem(f"is line {fact.number}, where line {lines} should be", link.seq)
        elif (number := getattr(fact, "number", None)) is not None and not 1 <= number <= lines:
            yield Problem("is about a line that is not there", link.seq)


def _times(links: list[Link]) -> Iterator[Problem]:
    """As they were written: a case goes on at an earlier time only where the clock is corrected at once."""
    before = links[0].fact.logged_at
    corrected = {link.seq - 1 for link in links if isinstance(link.fact, ClockCorrected)}
    for link in links:
        fact = link.fact
        if isinstance(fact, ClockCorrected) and fact.moves >= link.seq:
            yield Problem("corrects the time of facts that come after it", link.seq)
        if fact.logged_at < before and not (isinstance(fact, CaseResumed) and link.seq in corrected):
            yield Problem("was written down before the fact before it", link.seq)
        said_at = getattr(fact, "happened_at", None) or getattr(fact, "said_at", None)
        if said_at is not None and said_at > fact.logged_at + ROUNDING:
            yield Problem("was written down before it happened", link.seq)
        if isinstance(fact, CaptureGap) and fact.began_at > fact.logged_at + ROUNDING:
            yield Problem("is a gap that had not begun", link.seq)
        before = fact.logged_at


def _hand_overs(links: list[Link], case: str) -> Iterator[Problem]:
    """Each time a case was resumed, the key before had signed what was there."""
    key, before = "", links[0]
    for link in links:
        fact = link.fact
        if isinstance(fact, CaseResumed):
            if not vouched(case, before.seq, before.sha256, key, fact.signature_before):
                yield Problem("continues from a state that the previous key did not sign", link.seq)
            key = fact.public_key
        elif isinstance(fact, CaseOpened):
            key = fact.public_key
        before = link
