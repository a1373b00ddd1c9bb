"""Checks that a case is still as it was written: chain, order, times, definition, signatures, sound. Everything that
is wrong is reported with the number of the fact; the first is where the damage begins.

A case alone shows that its facts belong together, and which key vouches for which of them. That it was taken back whole
to an earlier state or cut, this machine's memory shows (`log.store.own_heads`); that it was written anew by whoever has
the key, only what has left the machine: the fingerprint and the public key on every note and export. Give those as
`expected_head` and `expected_keys`.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from log.basics.errors import TamponadeError
from log.facts.events import (
    CaseOpened,
    Fact,
    IdentifiersGiven,
    IdentifiersRemoved,
    SoundsRemoved,
)
from log.facts.origin import Origin
from log.facts.record import fold
from log.store.chain import (
    Head,
    Link,
    Stretch,
    canonical,
    key_in_force,
    parsed,
    read_link,
    stretches,
    vouched,
)
from log.store.history import Problem, check_facts
from log.store.own_heads import Remembered, remembered
from log.store.sqlite import faults, read_head, read_summary, reading, why


@dataclass(frozen=True, slots=True)
class Report:
    """The result of checking a case."""

    facts: int = 0
    opening: str = ""
    """Fingerprint of the first fact."""
    head: Head | None = None
    sounds: int = 0
    """That are here and as they were."""
    problems: tuple[Problem, ...] = ()
    stretches: tuple[Stretch, ...] = ()
    """The key that vouches for each stretch of facts."""
    sounds_missing: tuple[str, ...] = ()
    """Named by a fact, not here, and not removed by one."""

    @property
    def first_broken(self) -> int | None:
        """The number of the first fact that is not as it was written."""
        return min((problem.fact for problem in self.problems if problem.fact is not None), default=None)


@dataclass
class Chain:
    """The links as far as they can be read."""

    links: list[Link] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)


def verify(path: Path, expected_head: str | None = None, expected_keys: Collection[str] = ()) -> Report:
    """Checks a case file. Raises InputError or StoreError only if it cannot be opened at all.

    `expected_head`: a fingerprint that some export of this case carries. `expected_keys`: public keys, one of which has
    to vouch for every fact; without any, each key is taken as it comes and named in the report.
    """
    with reading(path) as connection:  # all of it in one moment: the case may be written meanwhile
        problems = [Problem(f"the file is damaged: {fault}") for fault in faults(connection)]
        try:
            head, summary = read_head(path, connection), read_summary(path, connection)
            chain = read_chain(connection.execute("SELECT seq, line FROM facts ORDER BY seq"), head)
            sounds, missing, beside = _beside(connection, [link.fact for link in chain.links])
        except TamponadeError as error:
            return Report(problems=(*problems, Problem(error.problem)))
    problems += [*check(chain, head), *beside]
    if not problems and summary != fold(link.fact for link in chain.links).summary:
        problems.append(Problem("the summary for the list of cases is not that of the facts"))
    problems += expectations(chain.links, expected_head, expected_keys)
    opening = chain.links[0].sha256 if chain.links else ""
    return Report(len(chain.links), opening, head, sounds, tuple(problems), stretches(chain.links), missing)


def doubts(links: Sequence[Link], head: Head | None) -> tuple[Problem, ...]:
    """All that is wrong with a case that was read, before it is gone on with: all but its bytes and its sounds."""
    chain = Chain(list(links))
    chain.problems += _not_followed(chain.links, head)
    return tuple(check(chain, head))


def check(chain: Chain, head: Head | None) -> Iterator[Problem]:
    """All that can be seen of the facts and their head alone, and what this machine remembers of them."""
    yield from chain.problems
    yield from check_facts(chain.links)
    yield from check_head(chain.links, head)
    yield from _unlike_memory(chain.links)


def _unlike_memory(links: list[Link]) -> Iterator[Problem]:
    """Heads that this machine wrote and that are not in this case: cut, or gone on with from an older copy."""
    known = remembered(links[0].sha256) if links else ()
    places = {link.seq: link.sha256 for link in links}
    missing = [one for one in known if one.facts and places.get(one.facts) != one.sha256]
    if missing:
        yield _lost(min(missing, key=lambda one: one.facts), len(links))


def _lost(head: Remembered, facts: int) -> Problem:
    if head.facts > facts:
        return Problem(f"facts {facts + 1} to {head.facts} were written on this machine and are not here", facts + 1)
    return Problem(
        "is not the fact that this machine wrote: the case was written anew, or went on from an older copy", head.facts
    )


def read_chain(lines: Iterable[tuple[int, str]], head: Head | None = None) -> Chain:
    """The facts of stored lines, and where the chain does not hold. With the head the last fact is checked too."""
    chain, due = Chain(), 1
    for seq, text in lines:
        if seq != due:
            chain.problems.append(Problem(f"is missing: the next one here is fact {seq}", due))
        due = seq + 1
        try:
            link = read_link(text)
            exact = canonical(parsed(text)) == text
        except ValueError as error:
            chain.problems.append(Problem(f"cannot be read ({why(error)})", seq))
            continue
        if link.seq != seq:
            chain.problems.append(Problem(f"is fact {link.seq} in the place of another", seq))
        if not exact:
            chain.problems.append(Problem("is not in its canonical form", seq))
        chain.links.append(link)
    chain.problems += _not_followed(chain.links, head)
    return chain


def _not_followed(links: list[Link], head: Head | None) -> Iterator[Problem]:
    """Facts that are not what the next one follows. From the end, for that is what is signed: what a fact that is not
    as it was says of the one before has no weight."""
    claim = (head.facts, head.sha256) if head is not None and not _unfit(links, head) else (0, "")
    for link in reversed(links):
        broken = claim[0] == link.seq and claim[1] != link.sha256
        if broken:
            yield Problem("chain broken here: the next fact or the signed head does not fit this one", link.seq)
        claim = (0, "") if broken else (link.seq - 1, link.previous or "")
    if links and links[0].previous is not None:
        yield Problem("is the first fact here, but names one before it", links[0].seq)


def check_head(links: list[Link], head: Head | None) -> Iterator[Problem]:
    """Whether the signed head is that of these facts, by the key that was in force."""
    unfit = _unfit(links, head)
    if head is None or unfit:
        yield Problem(unfit)
    elif head.facts != len(links):
        yield Problem(
            f"the head signs {head.facts} facts, but the case has {len(links)}", min(head.facts, len(links)) + 1
        )
    elif links and head.sha256 != links[-1].sha256:
        yield Problem("is not the fact that the head signs", links[-1].seq)


def _unfit(links: list[Link], head: Head | None) -> str:
    """Why a head says nothing of these facts; "" if it does."""
    if head is None:
        return "there is no signed head"
    if not vouched(head.case, head.facts, head.sha256, head.public_key, head.signature):
        return "the signature of the head is not valid"
    opened = links[0].fact if links else None
    if isinstance(opened, CaseOpened) and head.case != opened.case:
        return "the head is that of another case"
    if isinstance(opened, CaseOpened) and head.public_key != key_in_force(link.fact for link in links):
        return "the head is signed by another key than the facts name"
    return ""


def expectations(links: list[Link], head: str | None, keys: Collection[str]) -> Iterator[Problem]:
    """Whether the case goes on from what an export says of it."""
    if head is not None and head.lower() not in {link.sha256 for link in links}:
        yield Problem(f"no fact has the fingerprint {head}: the case was rewritten or cut after that export")
    wanted = {key.lower() for key in keys}
    for stretch in stretches(links):
        if wanted and stretch.public_key not in wanted:
            what = f"facts {stretch.first} to {stretch.last} are vouched for by another key, {stretch.public_key}"
            yield Problem(what)


def sounds_named(facts: Iterable[Fact]) -> dict[str, datetime]:
    """The sounds that facts name and no later fact removed, and when each was heard."""
    named: dict[str, datetime] = {}
    for fact in facts:
        origin, said_at = getattr(fact, "origin", None), getattr(fact, "said_at", None)
        if isinstance(origin, Origin) and origin.sound is not None and isinstance(said_at, datetime):
            named[origin.sound.sha256] = said_at
        if isinstance(fact, SoundsRemoved):
            for sha256 in fact.sha256:
                named.pop(sha256, None)
    return named


def _beside(connection: sqlite3.Connection, facts: list[Fact]) -> tuple[int, tuple[str, ...], list[Problem]]:
    """Sounds and identifiers: here and as they were, or gone with a fact that says so."""
    named, problems, here = sounds_named(facts), [], set()
    gone = {sha256 for fact in facts if isinstance(fact, IdentifiersRemoved) for sha256 in fact.sha256}
    blocks = {fact.sha256 for fact in facts if isinstance(fact, IdentifiersGiven)} - gone
    wanted = {"sound": set(named), "identifiers": blocks}
    for sha256, kind, content in connection.execute("SELECT sha256, kind, content FROM beside"):
        if not isinstance(content, bytes) or hashlib.sha256(content).hexdigest() != sha256:
            problems.append(Problem(f"a {kind} block is not what its fingerprint says ({str(sha256)[:12]} ...)"))
        elif sha256 not in wanted.get(kind, ()):
            problems.append(Problem(f"a {kind} block is here that no fact names ({sha256[:12]} ...)"))
        else:
            here.add(sha256)
    problems += [Problem(f"the block of identifiers {sha256[:12]} ... is missing") for sha256 in blocks - here]
    return len(here & set(named)), tuple(sha256 for sha256 in named if sha256 not in here), problems
