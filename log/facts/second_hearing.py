"""The second hearing of a case: which sounds it keeps and what the log made of each, how what was heard again differs,
and what became of every difference.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

from log.basics.entry import Entry
from log.facts.events import DifferenceHeard, SoundsRemoved
from log.facts.line import Line
from log.facts.origin import Origin, Sound
from log.facts.record import Record
from log.facts.spoken_notes import spoken_notes

ANSWER_WITHIN = timedelta(seconds=30)
"""For so long an utterance may have been the answer to a question."""

SAME_MOMENT = timedelta(seconds=30)
"""A late entry of the same within this time is what the second hearing found."""

Role = Literal["entry", "change", "not understood", "talk", "note"]


@dataclass(frozen=True, slots=True)
class Made:
    """One thing that the log made of a sound."""

    number: int
    """Its line."""
    entry: Entry
    """As it was heard then."""


@dataclass(frozen=True, slots=True)
class KeptSound:
    """One utterance of which the sound was kept, or all the stretches of one spoken note."""

    sounds: tuple[Sound, ...]
    said_at: datetime
    role: Role
    heard: str
    made: tuple[Made, ...] = ()
    number: int | None = None
    """The line that announced it, for a spoken note."""

    @property
    def seconds(self) -> float:
        """Its length."""
        return sum(sound.seconds for sound in self.sounds)

    @property
    def names(self) -> frozenset[str]:
        """SHA-256 of its sounds."""
        return frozenset(sound.sha256 for sound in self.sounds)


def kept_sounds(record: Record) -> tuple[KeptSound, ...]:
    """Every utterance of which sound was kept, in the order in which they were said."""
    found: dict[str, KeptSound] = {}
    for line in record.lines:
        for one in _of_line(line):
            known = found.get(one.sounds[0].sha256)
            found[one.sounds[0].sha256] = one if known is None else replace(known, made=(*known.made, *one.made))
    for missed in record.missed:
        _put(found, _of("not understood", missed.said_at, missed.origin))
    for spoken in record.speech:
        _put(found, _of("talk", spoken.said_at, spoken.origin))
    removed = {name for gone in record.removals if isinstance(gone, SoundsRemoved) for name in gone.sha256}
    there = (one for one in (*found.values(), *_notes(record)) if not one.names & removed)
    return tuple(sorted(there, key=lambda one: one.said_at))


def _of_line(line: Line) -> Iterator[KeptSound]:
    """The sound in which it was said, then those in which it was answered or corrected."""
    first = _of("entry", line.first_said_at, line.origin, Made(line.number, line.original))
    yield from (first,) if first is not None else ()
    for change in line.changes:
        made = () if change.what in ("struck", "restored", "undone") else (Made(line.number, change.after),)
        one = _of("change", change.at, change.origin, *made)
        yield from (one,) if one is not None else ()


def _of(role: Role, said_at: datetime, origin: Origin, *made: Made) -> KeptSound | None:
    return KeptSound((origin.sound,), said_at, role, origin.heard, made) if origin.sound is not None else None


def _put(found: dict[str, KeptSound], one: KeptSound | None) -> None:
    if one is not None:
        found.setdefault(one.sounds[0].sha256, one)


def _notes(record: Record) -> Iterator[KeptSound]:
    """Each spoken note that still counts, as one sound."""
    for note in spoken_notes(record):
        sounds = tuple(part.origin.sound for part in note.kept if part.origin.sound is not None)
        if sounds and note.line.status != "struck":
            yield KeptSound(sounds, note.kept[0].said_at, "note", "", (), note.line.number)


def question_was_open(record: Record, at: datetime) -> bool:
    """Whether a question was open at this moment that an answer could be for."""
    return any(
        line.candidates
        and timedelta(0) < at - line.first_said_at <= ANSWER_WITHIN
        and all(change.at >= at for change in line.changes)
        for line in record.lines
    )


# ---- what became of the differences ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Reviewed:
    """How far the second hearing and its review have come."""

    sounds: int
    """Number of utterances that have their sound."""
    heard: int
    """Number of these that were heard again."""
    taken: int
    left: int
    settled: int
    """Differences that need no review any more: the log was corrected since."""
    waiting: tuple[DifferenceHeard, ...]

    @property
    def differences(self) -> int:
        """All of them."""
        return self.reviewed + self.settled + len(self.waiting)

    @property
    def reviewed(self) -> int:
        """Those that somebody took or left."""
        return self.taken + self.left


def reviewed(record: Record) -> Reviewed | None:
    """None where no sound was heard again."""
    if not record.heard_again:
        return None
    again = {name for fact in record.heard_again for name in fact.sha256}
    kept = kept_sounds(record)
    reviews = [record.reviews[one.difference].taken for one in record.differences if one.difference in record.reviews]
    waits = waiting(record)
    return Reviewed(
        sounds=len(kept),
        heard=sum(one.names <= again for one in kept),
        taken=sum(reviews),
        left=len(reviews) - sum(reviews),
        settled=len(record.differences) - len(reviews) - len(waits),
        waiting=waits,
    )


def waiting(record: Record) -> tuple[DifferenceHeard, ...]:
    """Differences that somebody still has to take or leave, in the order in which things were said."""
    open_ = (one for one in record.differences if one.difference not in record.reviews and not _settled(record, one))
    return tuple(sorted(open_, key=lambda one: (one.said_at, one.difference)))


def _settled(record: Record, one: DifferenceHeard) -> bool:
    """Whether the log says by now what was heard, or the line is struck."""
    if one.number is not None:
        line = record.line(one.number)
        transcribed = one.differs == "words" and one.number in record.transcribed
        return transcribed or line.status == "struck" or (line.status == "stands" and line.entry == one.entry)
    near = (line for line in record.lines if abs(line.said_at - one.said_at) <= SAME_MOMENT)
    return one.entry is not None and any(line.status == "stands" and line.entry == one.entry for line in near)
