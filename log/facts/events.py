"""Everything that can be a fact of a case. Facts are in the past tense and are never edited: a correction is another
fact, and the record is what all of them add up to.

Two times are kept apart: `said_at` is when it happened in the room, `logged_at` when it was written down.

No fact holds sound or a patient's identifiers: these lie beside the facts and are linked by their hash, so that they
can be removed one day without a fact being touched.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import Field, SerializerFunctionWrapHandler, TypeAdapter, model_serializer

from log.basics.entry import Entry, Frozen
from log.basics.patterns import Level
from log.facts.origin import KeepSound, Moment, Origin, Sha256, WayOfSaying


class FactBase(Frozen):
    """Fields of every fact."""

    logged_at: Moment


class CaseOpened(FactBase):
    """A case was begun; holds the whole definition that was in force."""

    fact: Literal["case_opened"] = "case_opened"
    case: str
    label: str = ""
    definition: str
    """Canonical JSON of the procedure definition with the local override applied."""
    definition_sha256: str
    override_approved_by: str | None = None
    override_approved_on: str | None = None
    software: str
    source: str
    """The source of sound: a file's name, or "typed"."""
    author: str = ""
    keep_sound: KeepSound = "none"
    public_key: str = ""
    """Ed25519, 64 hexadecimal digits: whoever holds its private part vouches for the facts from here on."""
    simulation: str = ""
    """The scenario, where this is a rehearsal and nobody was treated; "" for a case with a patient."""


class CaseResumed(FactBase):
    """Somebody went on with a case that had been left, or whose program had died."""

    fact: Literal["case_resumed"] = "case_resumed"
    software: str
    source: str
    author: str = ""
    public_key: str
    signature_before: str
    """Signature of the head of the case as it was found, by the key that was in force until then; "" if it had none."""
    clock_set_back_s: float = Field(default=0, ge=0, le=1e10)
    """By how much the machine's clock reads earlier than the last fact."""


class ClockCorrected(FactBase):
    """The clock was wrong: the first facts of the case happened, and were written down, later or earlier than they say.
    They stay as they are; `log.facts.clock` reads them with the corrected times."""

    fact: Literal["clock_corrected"] = "clock_corrected"
    by_s: int = Field(ge=-(10**9), le=10**9)
    """Seconds that are added to each of their times; 0 where the times are corrected already."""
    moves: int = Field(ge=1)
    """Number of facts, from the opening on."""
    reason: str
    author: str


class EntryLogged(FactBase):
    """An entry was said beyond doubt."""

    fact: Literal["entry_logged"] = "entry_logged"
    number: int
    entry: Entry
    said_at: Moment
    origin: Origin
    late_reason: str = ""
    """Why it was written down afterwards; "" for what was logged when it was said."""


class EntryAsked(FactBase):
    """Something was heard that needs an answer; until then it counts in no total."""

    fact: Literal["entry_asked"] = "entry_asked"
    number: int
    candidates: tuple[Entry, ...] = Field(min_length=1)
    reason: str
    said_at: Moment
    origin: Origin


class QuestionAnswered(FactBase):
    """The room said which of the candidates, or which other value, was meant."""

    fact: Literal["question_answered"] = "question_answered"
    number: int
    entry: Entry
    said_at: Moment
    origin: Origin


class EntryStruck(FactBase):
    """An entry or open question was struck through; the original stays readable."""

    fact: Literal["entry_struck"] = "entry_struck"
    number: int
    said_at: Moment
    reason: str
    origin: Origin


class EntryRestored(FactBase):
    """A struck entry or question was put back as it was before it was struck."""

    fact: Literal["entry_restored"] = "entry_restored"
    number: int
    said_at: Moment
    reason: str
    origin: Origin


class EntryAmended(FactBase):
    """An entry was given another value or another time; the original stays readable."""

    fact: Literal["entry_amended"] = "entry_amended"
    number: int
    entry: Entry
    said_at: Moment
    """When the correction was said or typed."""
    reason: str
    origin: Origin
    happened_at: Moment | None = None
    """When the entry really happened, if that was wrong too."""


class ChangeUndone(FactBase):
    """The newest change of a line that still held was taken back: the line is as it was before it. A late entry that
    nobody changed is taken back as a whole, and counts no more."""

    fact: Literal["change_undone"] = "change_undone"
    number: int
    said_at: Moment
    reason: str
    origin: Origin


class NotUnderstoodHeard(FactBase):
    """Something addressed to the log made no entry."""

    fact: Literal["not_understood_heard"] = "not_understood_heard"
    said_at: Moment
    reason: str
    nearest: tuple[str, ...] = ()
    origin: Origin


class SpeechKept(FactBase):
    """Speech that was not for the log; a fact only where all sound is kept."""

    fact: Literal["speech_kept"] = "speech_kept"
    said_at: Moment
    origin: Origin


class FindingRaised(FactBase):
    """A rule had something to say."""

    fact: Literal["finding_raised"] = "finding_raised"
    rule: str
    number: int | None
    """The entry it stands beside, or None."""
    level: Level
    message: str
    source: str


Ended = Literal["back in range", "ended", "said anew"]
"""A later line ends a finding by a reading in range, by what was missing, or by a newer finding of the same rule."""


class FindingSettled(FactBase):
    """A finding no longer holds: its entry was corrected or struck, or a later line has ended it."""

    fact: Literal["finding_settled"] = "finding_settled"
    rule: str
    number: int | None
    message: str
    """That of the finding: two of one rule can stand beside one line."""
    how: str
    ended: Ended | None = None
    """None for a correction, and in facts from before this was written."""
    by: int | None = None
    """The line that ended it."""

    @model_serializer(mode="wrap")
    def _as_it_always_was(self, written: SerializerFunctionWrapHandler) -> dict[str, Any]:
        fields: dict[str, Any] = written(self)
        return {key: value for key, value in fields.items() if key not in ("ended", "by") or value is not None}


class FindingAcknowledged(FactBase):
    """Somebody has seen a finding and says why it may stand. It stays open until what it is about has changed."""

    fact: Literal["finding_acknowledged"] = "finding_acknowledged"
    rule: str
    number: int | None
    message: str
    reason: str
    author: str


class AcknowledgementUndone(FactBase):
    """An acknowledgement was taken back: the finding waits again for somebody who has seen it."""

    fact: Literal["acknowledgement_undone"] = "acknowledgement_undone"
    rule: str
    number: int | None
    message: str
    reason: str
    author: str


class NoteWritten(FactBase):
    """A scribe's free words about a moment or a line; no rule reads them."""

    fact: Literal["note_written"] = "note_written"
    text: str = Field(min_length=1, max_length=4000)
    number: int | None
    """The line it is about, or None for the moment."""
    said_at: Moment
    """The moment it is about."""
    author: str


class SpokenNoteKept(FactBase):
    """A stretch of a note that somebody spoke, kept whole as sound; nothing of it became an entry."""

    fact: Literal["spoken_note_kept"] = "spoken_note_kept"
    number: int
    """The line that announced the note."""
    said_at: Moment
    origin: Origin
    """With the sound. `heard` is what an engine made of it that knows only entries: no more than a hint."""


class SpokenNoteWritten(FactBase):
    """Somebody listened to a spoken note and wrote down its words. The sound stays; the last words count."""

    fact: Literal["spoken_note_written"] = "spoken_note_written"
    number: int
    """The line that announced the note."""
    text: str = Field(min_length=1, max_length=4000)
    author: str


class SoundsHeardAgain(FactBase):
    """Sounds of the case were heard a second time. That changed nothing: what differs is a fact of its own."""

    fact: Literal["sounds_heard_again"] = "sounds_heard_again"
    sha256: tuple[Sha256, ...] = Field(min_length=1)
    engine: str
    """The ears that heard them."""


Differs = Literal[
    "other number", "other direction", "other balloon", "other entry", "said, not logged", "logged, not said", "words"
]
"""How the second hearing differs from the log. `words`: a draft of what was said where nothing was understood, or in a
spoken note."""


class DifferenceHeard(FactBase):
    """The second hearing differs from the log. It changes no line: somebody takes it or leaves it."""

    fact: Literal["difference_heard"] = "difference_heard"
    difference: int = Field(ge=1)
    """Its number, counted from 1 within the case."""
    differs: Differs
    number: int | None
    """The line it stands beside, or None."""
    entry: Entry | None
    """The entry that was heard now; None where no entry was."""
    said_at: Moment
    origin: Origin
    """The sound, and the words that the second hearing believes."""
    text: str = Field(default="", max_length=4000)
    """The words of the general recogniser: a draft that nobody has confirmed."""


class DifferenceReviewed(FactBase):
    """Somebody took a difference of the second hearing, or left it. What follows from one that is taken is a fact of
    its own before this one: the line amended, entered late or struck, or the spoken note transcribed."""

    fact: Literal["difference_reviewed"] = "difference_reviewed"
    difference: int = Field(ge=1)
    taken: bool
    number: int | None
    """The line that was changed, entered or transcribed."""
    text: str = Field(default="", max_length=4000)
    """The words, where a draft was confirmed."""
    reason: str
    author: str


class ReviewUndone(FactBase):
    """A difference that was left, or a draft that was confirmed, waits again for somebody to review it."""

    fact: Literal["review_undone"] = "review_undone"
    difference: int = Field(ge=1)
    reason: str
    author: str


class CaptureGap(FactBase):
    """Time in which nothing could be heard."""

    fact: Literal["capture_gap"] = "capture_gap"
    began_at: Moment
    seconds: float = Field(ge=0, le=1e10)
    reason: str


class SavedLate(FactBase):
    """The disk took nothing for a while: what was logged meanwhile waited in memory, and is on the disk with this."""

    fact: Literal["saved_late"] = "saved_late"
    began_at: Moment
    seconds: float = Field(ge=0)
    facts: int = Field(ge=1)
    """Number of facts that waited."""
    reason: str


class ListeningChanged(FactBase):
    """From here on entries have to be said in this way: who reads the log knows what could have been missed."""

    fact: Literal["listening_changed"] = "listening_changed"
    mode: WayOfSaying
    lead_word: str = ""
    """"" where none is needed."""
    author: str


class SoundsRemoved(FactBase):
    """Sound was deleted; what had been heard in it stays."""

    fact: Literal["sounds_removed"] = "sounds_removed"
    sha256: tuple[Sha256, ...] = Field(min_length=1)
    reason: str
    author: str


class IdentifiersGiven(FactBase):
    """Somebody wrote down who the patient is. That lies beside the facts, in a block that can be removed."""

    fact: Literal["identifiers_given"] = "identifiers_given"
    sha256: Sha256
    """SHA-256 of the block, which holds a random part, so that nobody can find a name by trying."""
    author: str


class IdentifiersRemoved(FactBase):
    """The block of identifiers was deleted."""

    fact: Literal["identifiers_removed"] = "identifiers_removed"
    sha256: tuple[Sha256, ...] = Field(min_length=1)
    reason: str
    author: str


class SimulationPlayed(FactBase):
    """Something that the program played to a team in a rehearsal: invented, and never an entry."""

    fact: Literal["simulation_played"] = "simulation_played"
    event: str
    """Its id in the scenario."""
    because: int | None = None
    """The line it came after, for an event that comes after each such line."""
    said_at: Moment
    """When it happened, by the case's own clock."""
    told: str = Field(min_length=1, max_length=400)
    """The event as the team saw and heard it."""
    hidden: bool = False
    """The team was not informed: the patient changed."""
    shows: tuple[Entry, ...] = ()
    """Readings of the event, as the entries that would log them."""
    speed: float | None = Field(default=None, ge=1, le=240)
    """From here on the case's clock runs so many times as fast as the room's; None: as before."""


class CaseClosed(FactBase):
    """Listening ended."""

    fact: Literal["case_closed"] = "case_closed"
    reason: str


Fact = Annotated[
    CaseOpened
    | CaseResumed
    | ClockCorrected
    | EntryLogged
    | EntryAsked
    | QuestionAnswered
    | EntryStruck
    | EntryRestored
    | EntryAmended
    | ChangeUndone
    | NotUnderstoodHeard
    | SpeechKept
    | FindingRaised
    | FindingSettled
    | FindingAcknowledged
    | AcknowledgementUndone
    | NoteWritten
    | SpokenNoteKept
    | SpokenNoteWritten
    | SoundsHeardAgain
    | DifferenceHeard
    | DifferenceReviewed
    | ReviewUndone
    | CaptureGap
    | SavedLate
    | ListeningChanged
    | SoundsRemoved
    | IdentifiersGiven
    | IdentifiersRemoved
    | SimulationPlayed
    | CaseClosed,
    Field(discriminator="fact"),
]

AboutALine = EntryLogged | EntryAsked | QuestionAnswered | EntryStruck | EntryRestored | EntryAmended | ChangeUndone
"""Facts that make a line, or change what it says or whether it counts."""

_ADAPTER: TypeAdapter[Fact] = TypeAdapter(Fact)


def to_plain(fact: Fact) -> dict[str, Any]:
    """The fact as JSON's own types; times as RFC 3339 with their offset."""
    plain = _ADAPTER.dump_python(fact, mode="json")
    assert isinstance(plain, dict)
    return plain


def from_plain(plain: Mapping[str, Any]) -> Fact:
    """The fact that these JSON types say; raises pydantic.ValidationError, never guesses or converts."""
    return _ADAPTER.validate_json(json.dumps(plain), strict=True)


def moment(fact: Fact) -> datetime:
    """When it happened, as far as the fact knows."""
    said = getattr(fact, "said_at", None)
    return said if isinstance(said, datetime) else fact.logged_at
