"""One case being kept: what is heard becomes facts, facts go to disk first and to the screen second."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from log.basics.entry import Entry, Meaning, Understood
from log.basics.errors import InputError, StoreError
from log.facts.events import (
    CaptureGap,
    CaseClosed,
    DifferenceHeard,
    Fact,
    FindingRaised,
    ListeningChanged,
    SimulationPlayed,
    SoundsHeardAgain,
    SpeechKept,
    SpokenNoteKept,
)
from log.facts.origin import KeepSound, Origin, Sound, WayOfSaying
from log.facts.record import Record
from log.rules.course import Course
from log.scribe import clock, correct, reviewing
from log.scribe.correct import Correction
from log.scribe.decide import Heard, decide
from log.scribe.decided import rechecked
from log.scribe.ledger import Ledger
from log.scribe.pace import STEADY
from log.scribe.questions import awaits_answer
from log.scribe.resumption import resumption, why_nothing_was_heard
from log.store.chain import Link
from log.store.waiting import Waiting
from log.store.writing import Beside, Case, beside

TYPED = "typed"
"""The source of a session in which nothing is listened to."""


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

    def __init__(self, case: Case, began: datetime, author: str, links: Sequence[Link] = ()) -> None:
        """`links`: what the case holds, where it was read already."""
        self.ledger = Ledger(case, links)
        self.case, self.procedure = case, self.ledger.procedure
        self.author = author
        self.began = began
        self.pace = STEADY
        """How seconds become the case's time: only a rehearsal changes it."""
        self.doubts: tuple[str, ...] = ()
        """Everything that did not verify when the case was resumed."""

    @property
    def record(self) -> Record:
        """The case up to now."""
        return self.ledger.record

    @property
    def course(self) -> Course:
        """The case up to now, step by step, with what the rules say of it."""
        return self.ledger.course

    @property
    def waiting(self) -> Waiting | None:
        """The facts that the disk has not taken."""
        return self.ledger.waiting

    def take(
        self, meaning: Meaning, said_at: float, known_at: float, origin: Origin, clip: Clip | None = None
    ) -> tuple[Fact, ...]:
        """Facts that follow from one utterance; on disk with its sound when this returns. Raises StoreError."""
        sound, blocks = self._sound(clip)
        whole = origin.model_copy(update={"author": origin.author or self.author, "sound": sound})
        heard = Heard(meaning, self._at(said_at), self.ledger.now(self._at(known_at)), whole)
        return self.ledger.keep(decide(self.course, self.record, heard), blocks)

    def talk(self, said_at: float, known_at: float, origin: Origin, clip: Clip) -> tuple[Fact, ...]:
        """Speech that was not for the log: kept only where all sound is; and what the rules say by now."""
        facts = self.look(known_at)
        if self._keep_sound != "all":
            return facts
        sound, blocks = self._sound(clip)
        spoken = SpeechKept(
            logged_at=self._at(known_at),
            said_at=self._at(said_at),
            origin=origin.model_copy(update={"author": "", "sound": sound}),
        )
        return (*facts, *self.ledger.add((spoken,), blocks))

    def enter(self, entry: Entry, at: datetime, by: str) -> tuple[Fact, ...]:
        """An entry that a key stands for, at its moment. Raises StoreError."""
        heard = Heard(Understood(items=(entry,)), at, self.ledger.now(at), Origin(by="typed", author=by))
        return self.ledger.keep(decide(self.course, self.record, heard))

    def takes_note(self, at: float) -> bool:
        """Whether what begins to be said at this moment belongs to a spoken note."""
        taking = self.record.taking
        return taking is not None and self._at(at) <= taking.until

    def keep_note(self, said_at: float, known_at: float, origin: Origin, clip: Clip) -> tuple[Fact, ...]:
        """A stretch of the spoken note that is being taken, with its sound. Raises StoreError."""
        taking = self.record.taking
        assert taking is not None, "no note is being taken"
        sound, blocks = self._sound(clip)
        part = SpokenNoteKept(
            logged_at=self._at(known_at),
            number=taking.number,
            said_at=self._at(said_at),
            origin=origin.model_copy(update={"author": origin.author or self.author, "sound": sound}),
        )
        return (*self.look(known_at), *self.ledger.add((part,), blocks))

    def transcribe(self, number: int, text: str, author: str, at: datetime) -> tuple[Fact, ...]:
        """The words of a spoken note. Raises InputError, StoreError."""
        return self.correct(lambda record: correct.transcribe(record, number, text, author, at), at)

    def correct(self, make: Callable[[Record], Fact], at: datetime) -> tuple[Fact, ...]:
        """A correction by hand, with the findings that follow. Raises InputError, StoreError."""
        return self.ledger.check((make(self.record),), at)

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
        return self.ledger.add((*differences, again))

    def take_difference(self, difference: int, by: Correction, entry: Entry | None = None) -> tuple[Fact, ...]:
        """Changes the log as the second hearing says, or as `entry` says instead. Raises InputError."""
        return self.ledger.check(reviewing.take(self.record, difference, by, entry), by.at)

    def leave_difference(self, difference: int, by: Correction) -> tuple[Fact, ...]:
        """Leaves the log as it is. Raises InputError."""
        return self.correct(lambda record: reviewing.leave(record, difference, by), by.at)

    def gap(self, began: float, seconds: float, reason: str, known_at: float = 0.0) -> tuple[Fact, ...]:
        """Time in which nothing could be heard, known when it was over or later."""
        at = self._at(max(began + seconds, known_at))
        return self.ledger.add((CaptureGap(logged_at=at, began_at=self._at(began), seconds=seconds, reason=reason),))

    def listens(self, mode: WayOfSaying, lead_word: str | None, by: str, known_at: float) -> tuple[Fact, ...]:
        """From here on entries have to be said in this way."""
        at = self._at(known_at)
        return self.ledger.add((ListeningChanged(logged_at=at, mode=mode, lead_word=lead_word or "", author=by),))

    def asked(self, at: float) -> bool:
        """Whether an answer without the lead word would be for a question: only for a while after it was asked."""
        return awaits_answer(self.course, self.record, self._at(at), self.pace.speed(at))

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
            facts += self.ledger.check((played,), self.time(at))
            if paced and played.speed is not None:
                self.pace = self.pace.changed((played.said_at - self.began).total_seconds(), played.speed)
        return tuple(facts)

    def time(self, at: float) -> datetime:
        """The time of the case at this second."""
        return self._at(at)

    def look(self, at: float) -> tuple[Fact, ...]:
        """Findings now that time has passed. In a pause the case's file is made whole."""
        facts = self.ledger.check((), self._at(at))
        self.case.fold_in()
        return facts

    def close(self, at: float, reason: str) -> None:
        """Ends listening and lets go of the case, even if the disk takes no more. Raises StoreError."""
        self.ledger.close(CaseClosed(logged_at=self._at(at), reason=reason))

    def save(self, at: datetime) -> tuple[Fact, ...]:
        """Tries to write what waits; the fact that says for how long it waited, once the disk has taken it."""
        return self.ledger.save(at)

    def resumed(self, source: str) -> tuple[Fact, ...]:
        """Says that a case is resumed, and for how long nothing was heard. What the rules have learnt since
        is said too.

        Where the machine's clock reads earlier than the last fact, times go on from that fact: the sums and the clocks
        live by the order in which things happened. By how much it reads earlier is said.
        """
        self.ledger.take_up(self.began)
        last, back = self.ledger.last_at, self._set_back(self.began)
        self.began = now = max(self.began, last)
        here = resumption(self.case, now, self.author, source, back)
        why = why_nothing_was_heard(self.record, source != TYPED, back)
        gap = CaptureGap(logged_at=now, began_at=last, seconds=(now - last).total_seconds(), reason=why or "")
        return self.ledger.keep(rechecked(self.course, self.record, (here, gap) if why else (here,), now))

    @property
    def raised_at_resumption(self) -> tuple[Fact, ...]:
        """The findings of the moment in which the case was resumed: a clock that ran out while nobody listened."""
        if not self.record.resumed:
            return ()
        now = self.record.resumed[-1].logged_at
        return tuple(one.raised for one in self.record.findings if one.raised.logged_at == now and one.settled is None)

    def shift(self, by_s: int, reason: str) -> tuple[Fact, ...]:
        """Resumes a case that was begun on a wrong clock, and moves all that was recorded by these seconds. Raises
        InputError."""
        self.ledger.take_up(self.began)
        return self._moved(by_s, Correction(self.author, reason, self.began))

    def shift_on(self, by_s: int, who: Correction) -> tuple[Fact, ...]:
        """Moves all that was recorded by these seconds while the case goes on, and with it the clock of this session,
        on which `who.at` was read. Raises InputError, StoreError."""
        if self.ledger.waiting is not None:
            raise StoreError(self.ledger.waiting.why, "save the waiting facts first: free some disk space")
        by = timedelta(seconds=by_s)
        facts = self._moved(by_s, replace(who, at=who.at + by))
        self.began += by
        return facts

    def _moved(self, by_s: int, who: Correction) -> tuple[Fact, ...]:
        facts = self.case.facts()
        corrected, back = clock.correction(facts, by_s, who), self._set_back(who.at)
        here = resumption(self.case, who.at, self.author, TYPED, back)
        return self.ledger.keep(clock.moved(self.procedure, facts, here, corrected))

    def _set_back(self, at: datetime) -> float:
        """By how many seconds a moment on the machine's clock is earlier than the last fact."""
        return max(0.0, (self.ledger.last_at - at).total_seconds())

    @property
    def _keep_sound(self) -> KeepSound:
        return self.record.opened.keep_sound if self.record.opened else "none"

    def _sound(self, clip: Clip | None) -> tuple[Sound | None, tuple[Beside, ...]]:
        """How the facts name a sound that is to be kept, and the sound itself."""
        if clip is None or self._keep_sound == "none":
            return None, ()
        block = beside("sound", clip.flac)
        return Sound(sha256=block.sha256, seconds=clip.seconds), (block,)

    def _at(self, seconds: float) -> datetime:
        return self.began + timedelta(milliseconds=round(self.pace.case(seconds) * 1000))
