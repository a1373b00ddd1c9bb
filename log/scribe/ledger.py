"""A case as it stands on the disk: facts are written first, and only then the case is what they make of it. Where
somebody listens, what the disk refuses waits in its order, and is tried again.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from log.basics.errors import StoreError
from log.facts.clock import on_the_right_clock
from log.facts.events import Fact, SavedLate
from log.facts.record import fold
from log.rules.course import course_of
from log.rules.definitions import of_case
from log.scribe.decided import Decided, added, with_findings
from log.store.chain import Link
from log.store.waiting import Waiting, forget_elsewhere, keep_elsewhere, kept_elsewhere
from log.store.writing import Beside, Case


class Ledger:
    """The facts of one case, and what they come to. Times are the case's own."""

    def __init__(self, case: Case, links: Sequence[Link] = ()) -> None:
        """`links`: what the case holds, where it was read already."""
        facts = tuple(link.fact for link in links) or case.facts()
        self.case = case
        self.procedure = of_case(facts)
        self.record = fold(facts)
        self.course = course_of(self.procedure, self.record)
        self.patient = False
        """Whether what the disk refuses waits until there is room, as where somebody listens; else it is an error."""
        self.waiting: Waiting | None = None
        """The facts that the disk has not taken."""
        self.last_at = max(fact.logged_at for fact in on_the_right_clock(facts))
        """When the newest fact was written down."""

    def now(self, at: datetime) -> datetime:
        """When a fact of this moment is written down, never before the one before it: who hears and who types read the
        clock on their own, and the one who read it first may be written second."""
        return max(at, self.last_at)

    def add(self, facts: tuple[Fact, ...], beside: Sequence[Beside] = ()) -> tuple[Fact, ...]:
        """Writes these facts alone. Raises StoreError."""
        return self.keep(added(self.course, self.record, self._in_order(facts)), beside)

    def check(self, facts: tuple[Fact, ...], at: datetime) -> tuple[Fact, ...]:
        """Writes these facts, and what the rules say of the case then. Raises StoreError."""
        return self.keep(with_findings(self.course, self.record, self._in_order(facts), self.now(at)))

    def keep(self, new: Decided, beside: Sequence[Beside] = ()) -> tuple[Fact, ...]:
        """Writes what was decided, or has it wait. Raises StoreError where nothing waits."""
        if not new.facts:
            return ()
        if self.waiting is None:
            try:
                self.case.append(new.facts, new.record.summary, beside)
            except StoreError as error:
                if not self.patient:
                    raise
                why = error.problem.removeprefix(f"{self.case.path}: ")
                self._wait_for_room(Waiting(new.facts[0].logged_at, why), new, beside)
            else:
                self._became(new)
            return new.facts
        self._wait_for_room(self.waiting, new, beside)
        return (*new.facts, *self.save(self.last_at))

    def remove(
        self, facts: tuple[Fact, ...], sha256: Sequence[str], instead: Sequence[Beside] = ()
    ) -> tuple[Fact, ...]:
        """Deletes what lies beside the facts, puts there what comes instead, and writes the facts that say so. Raises
        StoreError."""
        if self.waiting is not None and not self.save(facts[0].logged_at):
            raise StoreError(self.waiting.why, "save the waiting facts first: free some disk space")
        new = added(self.course, self.record, self._in_order(facts))
        self.case.remove(new.facts, new.record.summary, sha256, instead)
        self._became(new)
        return new.facts

    def save(self, at: datetime) -> tuple[Fact, ...]:
        """Tries to write what waits; the fact that says for how long it waited, once the disk has taken it."""
        waiting = self.waiting
        if waiting is None:
            return ()
        now = self.now(at)
        late = SavedLate(
            logged_at=now,
            began_at=waiting.began_at,
            seconds=max(0.0, (now - waiting.began_at).total_seconds()),
            facts=len(waiting.facts),
            reason=waiting.why,
        )
        new = added(self.course, self.record, (late,))
        try:
            self.case.append((*waiting.facts, late), new.record.summary, waiting.beside)
        except StoreError:
            return ()
        self.waiting = None
        forget_elsewhere(self.case.path)
        self._became(new)
        return (late,)

    def take_up(self, at: datetime) -> None:
        """The facts that waited when the program ended join the case first. Raises StoreError."""
        waited = kept_elsewhere(self.case.path, self.case.last)
        if waited is not None:
            self._became(added(self.course, self.record, waited.facts))
            self.waiting = waited
            self.save(at)
            if self.waiting is not None:
                raise StoreError(
                    f"{len(waited.facts)} facts wait for this case: {waited.why}", "free some disk space first"
                )

    def close(self, last: Fact) -> None:
        """Writes the last fact and lets go of the case, even if the disk takes no more. Raises StoreError for facts
        that still wait."""
        try:
            self.add((last,))
            if self.waiting is not None:
                self._report_waiting(self.waiting)
        finally:
            self.case.close()

    def _wait_for_room(self, waiting: Waiting, new: Decided, beside: Sequence[Beside]) -> None:
        self.waiting = waiting.followed_by(new.facts, tuple(beside))
        self._became(new)
        keep_elsewhere(self.case.path, self.case.last, self.waiting)

    def _report_waiting(self, waiting: Waiting) -> None:
        place = keep_elsewhere(self.case.path, self.case.last, waiting)
        where = f"they are kept in {place} and join the case when it is resumed" if place else "they are lost"
        raise StoreError(
            f"{len(waiting.facts)} facts could not be written ({waiting.why}); {where}", "free some disk space first"
        )

    def _became(self, new: Decided) -> None:
        self.record, self.course, self.last_at = new.record, new.course, new.facts[-1].logged_at

    def _in_order(self, facts: tuple[Fact, ...]) -> tuple[Fact, ...]:
        return tuple(fact.model_copy(update={"logged_at": self.now(fact.logged_at)}) for fact in facts)
