"""One case being kept: what is heard becomes facts, facts go to disk first and to the screen second."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from importlib.metadata import version

from log.basics.entry import Entry, Meaning, Understood
from log.basics.errors import InputError, StoreError
from log.definition.procedure import Procedure
from log.facts.clock import on_the_right_clock
from log.facts.events import (
    CaptureGap,
    CaseClosed,
    CaseResumed,
    DifferenceHeard,
    Fact,
    FindingRaised,
    IdentifiersGiven,
    IdentifiersRemoved,
    ListeningChanged,
    SavedLate,
    SimulationPlayed,
    SoundsHeardAgain,
    SoundsRemoved,
    SpeechKept,
    SpokenNoteKept,
)
from log.facts.origin import KeepSound, Origin, Sound, WayOfSaying
from log.facts.record import Record, fold
from log.rules.course import course_of
from log.rules.definitions import of_case
from log.rules.emergency import emergency_is_up, ends_it, may_call
from log.scribe import clock, correct, reviewing
from log.scribe.correct import Correction
from log.scribe.decide import Heard, decide
from log.scribe.decided import Decided, added, rechecked, with_findings
from log.scribe.pace import STEADY
from log.store import case as store
from log.store.chain import Link
from log.store.identifiers import Identifiers, sealed
from log.store.waiting import Waiting, forget_elsewhere, keep_elsewhere, kept_elsewhere

ANSWER_WITHIN_SECONDS = 30.0
"""After that, what sounds like an answer is more likely talk in the room; the scribe can still answer."""

TYPED = "typed"
"""The source of a session in which nothing is listened to."""

SOFTWARE = f"tamponade-log {version('tamponade-log')}"


def wall_clock() -> datetime:
    """Now, in the zone of the room."""
    return datetime.now(UTC).astimezone()


@dataclass(frozen=True, slots=True)
class Clip:
    """The sound of one utterance."""

    flac: bytes
    """As a FLAC file."""
    seconds: float


class Session:
    """The only writer of a case. Times are seconds on the clock of whatever is listened to."""

    def __init__(self, case: store.Case, began: datetime, author: str, links: Sequence[Link] = ()) -> None:
        """`links`: what the case holds, where it was read already."""
        facts = tuple(link.fact for link in links) or case.facts()
        self.case = case
        self.author = author
        self.procedure: Procedure = of_case(facts)
        self.record: Record = fold(facts)
        self.course = course_of(self.procedure, self.record)
        self.began = began
        self.pace = STEADY
        """How seconds become the case's time: only a rehearsal changes it."""
        self.patient = False
        """Whether what the disk refuses waits until there is room, as where somebody listens; else it is an error."""
        self.waiting: Waiting | None = None
        """What the disk has not taken."""
        self.doubts: tuple[str, ...] = ()
        """What did not verify when the case was resumed."""
        self._last_at = max(fact.logged_at for fact in on_the_right_clock(facts))
        """When the newest fact was written down."""

    def take(
        self, meaning: Meaning, said_at: float, known_at: float, origin: Origin, clip: Clip | None = None
    ) -> tuple[Fact, ...]:
        """Facts that follow from one utterance; on disk with its sound when this returns. Raises StoreError."""
        sound, beside = self._sound(clip)
        whole = origin.model_copy(update={"author": origin.author or self.author, "sound": sound})
        heard = Heard(meaning, self._at(said_at), self._now(self._at(known_at)), whole)
        return self._keep(decide(self.course, self.record, heard), beside)

    def talk(self, said_at: float, known_at: float, origin: Origin, clip: Clip) -> tuple[Fact, ...]:
        """Speech that was not for the log: kept only where all sound is; and what the rules say by now."""
        facts = self.look(known_at)
        if self._keep_sound != "all":
            return facts
        sound, beside = self._sound(clip)
        spoken = SpeechKept(
            logged_at=self._at(known_at),
            said_at=self._at(said_at),
            origin=origin.model_copy(update={"author": "", "sound": sound}),
        )
        return (*facts, *self._add((spoken,), beside))

    def enter(self, entry: Entry, at: datetime, by: str) -> tuple[Fact, ...]:
        """An entry that a key stands for, at its moment. Raises StoreError."""
        heard = Heard(Understood(items=(entry,)), at, self._now(at), Origin(by="typed", author=by))
        return self._keep(decide(self.course, self.record, heard))

    def takes_note(self, at: float) -> bool:
        """Whether what begins to be said at this moment belongs to a spoken note."""
        taking = self.record.taking
        return taking is not None and self._at(at) <= taking.until

    def keep_note(self, said_at: float, known_at: float, origin: Origin, clip: Clip) -> tuple[Fact, ...]:
        """A stretch of the spoken note that is being taken, with its sound. Raises StoreError."""
        taking = self.record.taking
        assert taking is not None, "no note is being taken"
        sound, beside = self._sound(clip)
        part = SpokenNoteKept(
            logged_at=self._at(known_at),
            number=taking.number,
            said_at=self._at(said_at),
            origin=origin.model_copy(update={"author": origin.author or self.author, "sound": sound}),
        )
        return (*self.look(known_at), *self._add((part,), beside))

    def transcribe(self, number: int, text: str, author: str, at: datetime) -> tuple[Fact, ...]:
        """The words of a spoken note. Raises InputError, StoreError."""
        return self.correct(lambda record: correct.transcribe(record, number, text, author, at), at)

    def correct(self, make: Callable[[Record], Fact], at: datetime) -> tuple[Fact, ...]:
        """A correction by hand, with the findings that follow. Raises InputError, StoreError."""
        return self._check((make(self.record),), at)

    def strike(self, number: int, by: Correction) -> tuple[Fact, ...]:
        """Strikes a line."""
        return self.correct(lambda record: correct.strike(record, number, by), by.at)

    def amend(self, number: int, entry: Entry | None, happened_at: datetime | None, by: Correction) -> tuple[Fact, ...]:
        """Gives a line another value or time, or answers it."""
        return self.correct(lambda record: correct.amend(record, number, entry, happened_at, by), by.at)

    def undo(self, by: Correction) -> tuple[Fact, ...]:
        """Takes back what was changed last by hand. Raises InputError if there is nothing."""
        return self.correct(lambda record: correct.undo(record, by), by.at)

    def enter_late(self, entry: Entry, happened_at: datetime, by: Correction) -> tuple[Fact, ...]:
        """Logs what happened earlier."""
        return self.correct(lambda record: correct.enter_late(record, entry, happened_at, by), by.at)

    def acknowledge(self, found: FindingRaised, by: Correction) -> tuple[Fact, ...]:
        """Says that a finding was seen, and why it may stand."""
        return self.correct(lambda record: correct.acknowledge(record, found, by), by.at)

    def write_note(self, text: str, about: int | None, author: str, at: datetime) -> tuple[Fact, ...]:
        """Free words about a line, or about this moment."""
        return self.correct(lambda record: correct.note(record, text, about, author, at), at)

    def heard_again(
        self, sounds: Sequence[str], differences: Sequence[DifferenceHeard], engine: str, at: datetime
    ) -> tuple[Fact, ...]:
        """Says which sounds were heard a second time, and how that differs from the log. Changes no line."""
        again = SoundsHeardAgain(logged_at=at, sha256=tuple(sounds), engine=engine)
        return self._add((*differences, again))

    def take_difference(self, difference: int, by: Correction, entry: Entry | None = None) -> tuple[Fact, ...]:
        """Changes the log as the second hearing says, or as `entry` says instead. Raises InputError."""
        return self._check(reviewing.take(self.record, difference, by, entry), by.at)

    def leave_difference(self, difference: int, by: Correction) -> tuple[Fact, ...]:
        """Leaves the log as it is. Raises InputError."""
        return self.correct(lambda record: reviewing.leave(record, difference, by), by.at)

    def identify(self, identifiers: Identifiers, by: str, at: datetime) -> tuple[Fact, ...]:
        """Keeps a block of identifiers beside the facts; an older one is deleted."""
        block = store.beside("identifiers", sealed(identifiers))
        given, old = IdentifiersGiven(logged_at=at, sha256=block.sha256, author=by), self.record.identified
        if old is None:
            return self._add((given,), (block,))
        return self._removed((given, _forgotten(old, "replaced by a newer one", by, at)), (old.sha256,), (block,))

    def forget_identifiers(self, reason: str, by: str, at: datetime) -> tuple[Fact, ...]:
        """Deletes the block of identifiers. Raises InputError if there is none."""
        if self.record.identified is None:
            raise InputError("this case has no block of identifiers", "there is nothing to remove")
        old = self.record.identified
        return self._removed((_forgotten(old, reason, by, at),), (old.sha256,))

    def forget_sounds(self, sha256: tuple[str, ...], reason: str, by: str, at: datetime) -> tuple[Fact, ...]:
        """Deletes sounds; what was heard in them stays."""
        return self._removed((SoundsRemoved(logged_at=at, sha256=sha256, reason=reason, author=by),), sha256)

    def gap(self, began: float, seconds: float, reason: str, known_at: float = 0.0) -> tuple[Fact, ...]:
        """Time in which nothing could be heard, known when it was over or later."""
        at = self._at(max(began + seconds, known_at))
        return self._add((CaptureGap(logged_at=at, began_at=self._at(began), seconds=seconds, reason=reason),))

    def listens(self, mode: WayOfSaying, lead_word: str | None, by: str, known_at: float) -> tuple[Fact, ...]:
        """From here on entries have to be said in this way."""
        at = self._at(known_at)
        return self._add((ListeningChanged(logged_at=at, mode=mode, lead_word=lead_word or "", author=by),))

    def asked(self, at: float) -> bool:
        """Whether an answer without the lead word would be for a question: only for a while after it was asked. While
        an emergency is up no other question waits for an answer; once it is over it does so anew.
        """
        question = self.record.open_question
        if question is None or (emergency_is_up(self.course, self.record) and not may_call(question)):
            return False
        since = max(question.said_at, _emergency_over(self.record) or question.said_at)
        return self._at(at) - since < timedelta(seconds=ANSWER_WITHIN_SECONDS * self.pace.speed(at))

    def play(
        self, next_due: Callable[[Session, datetime], SimulationPlayed | None], at: float, paced: bool = True
    ) -> tuple[Fact, ...]:
        """Plays the events of a rehearsal up to a moment, each in its place; the clock changes its pace if `paced`.

        Raises InputError for a case with a patient: nothing is ever played into one.
        """
        if not self.record.opened or not self.record.opened.simulation:
            raise InputError("this is not a rehearsal", "events are played into a case of their own")
        facts: list[Fact] = []
        while (played := next_due(self, self.time(at))) is not None:
            facts += self._check((played,), self.time(at))
            if paced and played.speed is not None:
                self.pace = self.pace.changed((played.said_at - self.began).total_seconds(), played.speed)
        return tuple(facts)

    def time(self, at: float) -> datetime:
        """The time of the case at this second."""
        return self._at(at)

    def look(self, at: float) -> tuple[Fact, ...]:
        """Findings now that time has passed. In a pause the case's file is made whole."""
        facts = self._check((), self._at(at))
        self.case.fold_in()
        return facts

    def close(self, at: float, reason: str) -> None:
        """Ends listening and lets go of the case, even if the disk takes no more."""
        try:
            self._add((CaseClosed(logged_at=self._at(at), reason=reason),))
            if self.waiting is not None:
                self._report_waiting(self.waiting)
        finally:
            self.case.close()

    def save(self, at: datetime) -> tuple[Fact, ...]:
        """Tries to write what waits; the fact that says for how long it waited, once the disk has taken it."""
        waiting = self.waiting
        if waiting is None:
            return ()
        now = self._now(at)
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

    def resumed(self, source: str) -> tuple[Fact, ...]:
        """Says that a case is resumed, and for how long nothing was heard. What the rules have learnt since
        is said too.

        Where the machine's clock reads earlier than the last fact, times go on from that fact: the sums and the clocks
        live by the order in which things happened. By how much it reads earlier is said.
        """
        self._take_up()
        last, back = self._last_at, self._set_back
        self.began = now = max(self.began, last)
        here = self._resumption(source, back)
        why = _why_nothing_was_heard(self.record, source, back)
        gap = CaptureGap(logged_at=now, began_at=last, seconds=(now - last).total_seconds(), reason=why or "")
        return self._keep(rechecked(self.course, self.record, (here, gap) if why else (here,), now))

    def shift(self, by_s: int, reason: str) -> tuple[Fact, ...]:
        """Resumes a case that was begun on a wrong clock, and moves all that was recorded by these seconds. Raises
        InputError."""
        self._take_up()
        facts, who = self.case.facts(), Correction(self.author, reason, self.began)
        corrected = clock.correction(facts, by_s, who)
        return self._keep(clock.moved(self.procedure, facts, self._resumption(TYPED, self._set_back), corrected))

    @property
    def _set_back(self) -> float:
        """By how many seconds the machine's clock reads earlier than the last fact."""
        return max(0.0, (self._last_at - self.began).total_seconds())

    def _resumption(self, source: str, back: float) -> CaseResumed:
        head = self.case.head()
        return CaseResumed(
            logged_at=self.began,
            software=SOFTWARE,
            source=source,
            author=self.author,
            public_key=self.case.public_key,
            signature_before=head.signature if head else "",
            clock_set_back_s=back,
        )

    def _take_up(self) -> None:
        """What waited when the program ended joins the case first."""
        waited = kept_elsewhere(self.case.path, self.case.last)
        if waited is not None:
            self._became(added(self.course, self.record, waited.facts))
            self.waiting = waited
            self.save(self.began)
            if self.waiting is not None:
                raise StoreError(
                    f"{len(waited.facts)} facts wait for this case: {waited.why}", "free some disk space first"
                )

    @property
    def _keep_sound(self) -> KeepSound:
        return self.record.opened.keep_sound if self.record.opened else "none"

    def _sound(self, clip: Clip | None) -> tuple[Sound | None, tuple[store.Beside, ...]]:
        """How the facts name a sound that is to be kept, and the sound itself."""
        if clip is None or self._keep_sound == "none":
            return None, ()
        beside = store.beside("sound", clip.flac)
        return Sound(sha256=beside.sha256, seconds=clip.seconds), (beside,)

    def _at(self, seconds: float) -> datetime:
        return self.began + timedelta(milliseconds=round(self.pace.case(seconds) * 1000))

    def _now(self, at: datetime) -> datetime:
        """When a fact of this moment is written down, never before the one before it: who hears and who types read the
        clock on their own, and the one who read it first may be written second."""
        return max(at, self._last_at)

    def _add(self, facts: tuple[Fact, ...], beside: Sequence[store.Beside] = ()) -> tuple[Fact, ...]:
        """Writes these facts alone."""
        return self._keep(added(self.course, self.record, self._in_order(facts)), beside)

    def _check(self, facts: tuple[Fact, ...], at: datetime) -> tuple[Fact, ...]:
        """Writes these facts, and what the rules say of the case then."""
        return self._keep(with_findings(self.course, self.record, self._in_order(facts), self._now(at)))

    def _keep(self, new: Decided, beside: Sequence[store.Beside] = ()) -> tuple[Fact, ...]:
        """On disk first: only then the case is what the facts make of it. Where somebody listens, what the disk
        refuses waits in its order, and is tried again."""
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
        return (*new.facts, *self.save(self._last_at))

    def _wait_for_room(self, waiting: Waiting, new: Decided, beside: Sequence[store.Beside]) -> None:
        self.waiting = waiting.followed_by(new.facts, tuple(beside))
        self._became(new)
        keep_elsewhere(self.case.path, self.case.last, self.waiting)

    def _report_waiting(self, waiting: Waiting) -> None:
        place = keep_elsewhere(self.case.path, self.case.last, waiting)
        where = f"they are kept in {place} and join the case when it is resumed" if place else "they are lost"
        raise StoreError(
            f"{len(waiting.facts)} facts could not be written ({waiting.why}); {where}", "free some disk space first"
        )

    def _removed(
        self, facts: tuple[Fact, ...], sha256: Sequence[str], instead: Sequence[store.Beside] = ()
    ) -> tuple[Fact, ...]:
        if self.waiting is not None and not self.save(facts[0].logged_at):
            raise StoreError(self.waiting.why, "save the waiting facts first: free some disk space")
        new = added(self.course, self.record, self._in_order(facts))
        self.case.remove(new.facts, new.record.summary, sha256, instead)
        self._became(new)
        return new.facts

    def _became(self, new: Decided) -> None:
        self.record, self.course, self._last_at = new.record, new.course, new.facts[-1].logged_at

    def _in_order(self, facts: tuple[Fact, ...]) -> tuple[Fact, ...]:
        return tuple(fact.model_copy(update={"logged_at": self._now(fact.logged_at)}) for fact in facts)


def _emergency_over(record: Record) -> datetime | None:
    """When an emergency was over, if nothing was said since."""
    newest = next(record.newest_first, None)
    return newest.said_at if newest is not None and ends_it(newest) else None


def _forgotten(old: IdentifiersGiven, reason: str, by: str, at: datetime) -> IdentifiersRemoved:
    return IdentifiersRemoved(logged_at=at, sha256=(old.sha256,), reason=reason, author=by)


def _why_nothing_was_heard(record: Record, source: str, back: float) -> str | None:
    """The reason of the gap before a case is resumed; None if nobody meant to listen."""
    if record.closed is None:
        return "the program had ended without closing the case" + (
            f"; the clock reads {back:.0f} s earlier than the last fact, from which times go on" if back else ""
        )
    return None if source == TYPED else f"nobody listened ({record.closed.reason})"
