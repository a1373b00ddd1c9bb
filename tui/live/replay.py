"""Sound in, case kept, read-back shown: the loop that replay and demo share.

A replayed case runs on the recording's clock, so that its times do not depend on the speed of the machine.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Protocol

from log.basics.entry import NotUnderstood
from log.basics.errors import EngineError, IncompleteInput
from log.definition.procedure import Procedure
from log.facts.events import EntryAsked, EntryLogged, Fact, QuestionAnswered, SpokenNoteKept
from log.facts.origin import Origin
from log.facts.spoken_notes import cries_out, ends_it
from log.scribe.session import Clip, Session
from tui.live.heard_json import ANSWERS, Event, event, events
from voice.meaning.ears import Ears
from voice.meaning.lead_word import after_lead_word
from voice.meaning.matcher import Listening
from voice.meaning.verdict import Hearing
from voice.sound.audio import FrameSource, flac
from voice.sound.endpoint import segments
from voice.sound.segment import SAMPLE_RATE, Segment

FEWEST_WORDS = 2
"""After the lead word, for what nobody understood to be a line: a grammar hears its lead word in any cough."""


class View(Protocol):
    """Whoever wants to see what happens."""

    def heard(self, hearing: Hearing, facts: tuple[Fact, ...]) -> None:
        """One utterance and what became of it; called when it is on disk."""
        ...

    def notify(self, facts: tuple[Fact, ...]) -> None:
        """Facts that nobody said: gaps, clocks."""
        ...


@dataclass
class Outcome:
    """The result of a replay."""

    events: list[Event] = field(default_factory=list)
    seconds: float = 0.0
    broken_off: IncompleteInput | None = None
    asked: dict[int, Event] = field(default_factory=dict)
    """Open questions by the number of their line."""


def replay(source: FrameSource, session: Session, ears: Ears, view: View | None) -> Outcome:
    """Hears a whole source into the session and closes it. What could be heard is kept whatever happens after."""
    outcome = Outcome()
    ended = "stopped before the end of the recording"
    try:
        for segment in segments(source.frames()):
            outcome.seconds = segment.overheard_until / SAMPLE_RATE
            _hear(segment, session, ears, view, outcome)
        ended = "end of the recording"
    except IncompleteInput as error:
        outcome.broken_off = error
        ended = "the recording breaks off"
        _show(view, session.gap(outcome.seconds, 0.0, f"the recording breaks off: {error.problem}"))
    finally:
        session.close(outcome.seconds, ended)
    return outcome


def _hear(segment: Segment, session: Session, ears: Ears, view: View | None, outcome: Outcome) -> None:
    listening = Listening(ears.lead_word, question_open=session.asked(segment.start), in_talk=ears.lead_word is None)
    try:
        hearing = ears.hear(segment, listening)
    except EngineError as error:
        _show(view, unheard(session, segment, str(error), outcome.seconds))
        return
    facts = logged(session, hearing, listening, outcome.seconds)
    if noted(facts):
        _show(view, facts)
        return
    _note(hearing, facts, outcome)
    if view is not None:
        view.heard(hearing, facts)


def logged(session: Session, hearing: Hearing, listening: Listening, known_at: float) -> tuple[Fact, ...]:
    """Sorts one utterance: it belongs to the spoken note that is being taken, is for the log, or is talk."""
    origin = Origin(heard=hearing.text, engine=hearing.engine, confidence=hearing.confidence)
    began, sound = hearing.segment.start, clip(hearing.segment)
    kept: tuple[Fact, ...] = ()
    if session.takes_note(began) and not ends_it(hearing.meaning):
        kept = session.keep_note(began, known_at, origin, sound)
        if not cries_out(session.procedure, hearing.meaning):
            return kept
    if meant_for_the_log(session.procedure, hearing, listening):
        return (*kept, *session.take(hearing.meaning, hearing.said_at, known_at, origin, sound))
    return (*kept, *session.talk(hearing.said_at, known_at, origin, sound))


def noted(facts: tuple[Fact, ...]) -> bool:
    """Whether an utterance only became part of a spoken note: whatever it seemed to mean was not meant."""
    kept = any(isinstance(fact, SpokenNoteKept) for fact in facts)
    return kept and not any(isinstance(fact, EntryLogged | EntryAsked) for fact in facts)


def unheard(session: Session, segment: Segment, why: str, known_at: float) -> tuple[Fact, ...]:
    """Logs speech that no engine could hear: time in which nothing was heard, but a note keeps its sound."""
    noted = session.takes_note(segment.start)
    kept = session.keep_note(segment.start, known_at, Origin(confidence=0), clip(segment)) if noted else ()
    return (*kept, *session.gap(segment.start, segment.seconds, why, known_at))


def clip(segment: Segment) -> Clip:
    """The sound of a segment as a case keeps it."""
    return Clip(flac(segment.pcm), segment.seconds)


def meant_for_the_log(procedure: Procedure, hearing: Hearing, listening: Listening) -> bool:
    """Talk in the room is not kept. What was said to the log is, even if nobody understood it: after the lead word,
    or while the key was held."""
    if not isinstance(hearing.meaning, NotUnderstood):
        return True
    words = tuple(hearing.text.split())
    if listening.lead_word is None:
        return not listening.in_talk and bool(words)
    said = after_lead_word(procedure, words, listening.lead_word)
    return said is not None and len(said) >= FEWEST_WORDS


def _note(hearing: Hearing, facts: tuple[Fact, ...], outcome: Outcome) -> None:
    """Keeps the events of the JSON: what was asked is pending until it is answered."""
    found = [e for e in events(hearing.meaning, hearing.confidence, outcome.seconds) if e["kind"] not in ANSWERS]
    outcome.events += found
    pending = [e for e in found if e["pending"]]
    for fact in facts:
        match fact:
            case EntryAsked(number=number, candidates=candidates):
                asked = next(e for e in pending if e["kind"] == candidates[0].kind)
                pending.remove(asked)
                outcome.asked[number] = asked
            case QuestionAnswered(number=number, entry=entry) if number in outcome.asked:
                asked = outcome.asked.pop(number)
                asked.update(event(entry, asked["confidence"], False, outcome.seconds))


def _show(view: View | None, facts: tuple[Fact, ...]) -> None:
    if view is not None:
        view.notify(facts)
