"""A whole case heard a second time: every sound that it keeps, in order, with the context that it had. What was heard
again is written every few sounds, so that whoever is interrupted goes on from there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Protocol

from log.basics.entry import Entry
from log.facts.events import DifferenceHeard, EntryAmended, Fact, FindingRaised, FindingSettled
from log.facts.origin import Origin
from log.facts.record import Record
from log.facts.second_hearing import KeptSound, kept_sounds, question_was_open
from log.rules.course import Course
from log.scribe.decided import with_findings
from log.scribe.session import Session
from voice.engines.words import Draft
from voice.meaning.again import Again
from voice.meaning.differences import Breaks, Found, differences
from voice.meaning.evidence import Words
from voice.meaning.matcher import Listening
from voice.sound.audio import sound_of
from voice.sound.segment import BYTES_PER_SAMPLE, Segment

WRITTEN_EVERY = 10
"""Sounds after which the case says that they were heard again."""


class Ears(Protocol):
    """Whoever hears again."""

    @property
    def names(self) -> str:
        """The engines that hear."""
        ...

    @property
    def drafts(self) -> bool:
        """Whether free words are heard."""
        ...

    def hear(self, segment: Segment, listening: Listening, also: Sequence[Words] = ()) -> Again:
        """One utterance."""
        ...

    def draft(self, segment: Segment) -> Draft:
        """Free words of one."""
        ...


@dataclass(frozen=True, slots=True)
class Left:
    """The sounds that these ears have not heard yet, and how many they have."""

    sounds: tuple[KeptSound, ...]
    heard: int


def left_to_hear(record: Record, engine: str) -> Left:
    """What is left for these ears; what they and others have heard is not."""
    ears = set(engine.split("+"))
    again = {name for fact in record.heard_again if ears <= set(fact.engine.split("+")) for name in fact.sha256}
    kept = kept_sounds(record)
    left = tuple(one for one in kept if not one.names <= again)
    return Left(left, len(kept) - len(left))


Batch = Sequence[tuple[KeptSound, tuple[Found, ...]]]
"""Utterances with what was found in each."""


def relisten(
    session: Session,
    ears: Ears,
    write: Callable[[Batch], object],
    went_on: Callable[[int, int], bool],
) -> None:
    """Hears what is left of a case. `write` brings utterances to the case, some at a time; `went_on` gets how many of
    how many were heard, and says whether to go on. Whatever ends it, what was heard is written. Raises EngineError,
    StoreError."""
    left = left_to_hear(session.record, ears.names)
    batch: list[tuple[KeptSound, tuple[Found, ...]]] = []
    try:
        for number, one in enumerate(left.sounds, start=left.heard + 1):
            batch.append((one, heard(session, ears, one)))
            if len(batch) == WRITTEN_EVERY:
                write(tuple(batch))
                batch = []
            if not went_on(number, left.heard + len(left.sounds)):
                break
    finally:
        if batch:
            write(tuple(batch))


def heard(session: Session, ears: Ears, one: KeptSound) -> tuple[Found, ...]:
    """How one utterance differs from the log. Raises EngineError."""
    segment = _segment(session, one)
    if segment is None:
        return ()
    record, course = session.record, session.course
    if one.role == "note":
        text = ears.draft(segment).text if one.number not in record.transcribed else ""
        return (Found("words", one.number, None, "", 0.0, text),) if text else ()
    also = (tuple(one.heard.split()),) if one.heard else ()
    again = ears.hear(segment, listening(record, one), also)
    found = differences(course.procedure, record, one, again, _breaks(course, record))
    if not found and one.role == "not understood" and again.draft.text:
        return (Found("words", None, None, "", 0.0, again.draft.text),)
    by_ears = {one.heard, *(" ".join(words) for words in again.evidence.rivals)}  # the rest are free words: a draft
    return tuple(
        replace(each, words=each.words if each.words in by_ears else "", draft=again.draft.text) for each in found
    )


def _segment(session: Session, one: KeptSound) -> Segment | None:
    flacs = [session.case.sound(sound.sha256) for sound in one.sounds]
    pcm = b"".join(sound_of(flac) for flac in flacs if flac is not None)
    return Segment(pcm, 0, len(pcm) // BYTES_PER_SAMPLE) if pcm else None


def written(session: Session, batch: Batch, engine: str, at: datetime) -> tuple[Fact, ...]:
    """Has the case say which sounds were heard again, and what is new of the differences. On the writing thread."""
    known = {_key(one) for one in session.record.differences}
    laid: list[DifferenceHeard] = []
    for one, found in batch:
        for each in found:
            number = len(session.record.differences) + len(laid) + 1
            fact = _difference(number, one, each, engine, at)
            if _key(fact) not in known:
                known.add(_key(fact))
                laid.append(fact)
    names = tuple(sorted({name for one, _ in batch for name in one.names}))
    return session.heard_again(names, laid, engine, at)


def _key(one: DifferenceHeard) -> tuple[object, ...]:
    """Two hearings of one sound differ from the log in the same way once."""
    sound = one.origin.sound.sha256 if one.origin.sound else ""
    return sound, one.differs, one.number, one.entry, one.text if one.differs == "words" else ""


def _difference(number: int, one: KeptSound, found: Found, engine: str, at: datetime) -> DifferenceHeard:
    origin = Origin(heard=found.words, engine=engine, confidence=round(found.sure, 3), sound=one.sounds[0])
    return DifferenceHeard(
        logged_at=at,
        difference=number,
        differs=found.differs,
        number=found.number,
        entry=found.entry,
        said_at=one.said_at,
        origin=origin,
        text=found.draft,
    )


def listening(record: Record, one: KeptSound) -> Listening:
    """How it was listened to when it was said: a question may have been open then."""
    mode = next((way.mode for way in reversed(record.ways) if way.logged_at <= one.said_at), None)
    return Listening(question_open=question_was_open(record, one.said_at), in_talk=mode == "open")


def _breaks(course: Course, record: Record) -> Breaks:
    """How many findings more there would be if a line said something else."""

    def breaks(number: int, entry: Entry) -> int:
        line = record.line(number)
        if line.status != "stands" or line.entry == entry:
            return 0
        at = line.logged_at
        so = EntryAmended(logged_at=at, number=number, entry=entry, said_at=at, reason="heard", origin=line.origin)
        facts = with_findings(course, record, (so,), at).facts
        urgent = [fact for fact in facts if isinstance(fact, FindingRaised) and fact.level != "information"]
        return len(urgent) - sum(isinstance(fact, FindingSettled) for fact in facts)

    return breaks


def seconds_of(sounds: Sequence[KeptSound]) -> float:
    """Length of their sound."""
    return sum(one.seconds for one in sounds)
