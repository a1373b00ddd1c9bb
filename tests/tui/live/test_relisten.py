"""A case is heard again sound by sound; whoever is interrupted goes on from there, and nothing is heard twice."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import pytest

from log.basics.entry import Entry, Understood
from log.basics.errors import EngineError
from log.facts.events import SoundsHeardAgain
from log.facts.origin import Origin
from log.facts.second_hearing import kept_sounds, waiting
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case
from log.scribe.session import TYPED, Clip, Session
from log.store import case as store
from log.store.folder import cases_folder
from tests.cases import gastric, phrases
from tests.tui.conftest import Run
from tui.commands import relisten as relisten_command
from tui.live.relisten import left_to_hear, listening, relisten, written
from voice.engines.words import Draft
from voice.meaning.again import Again, Reading
from voice.meaning.evidence import Evidence, Words
from voice.meaning.matcher import Listening, understand
from voice.sound.audio import flac
from voice.sound.segment import Segment

SAID = ("gastric five zero in", "gastric one zero zero in", "clamp on the gastric")


class Parrot:
    """Ears that hear the same words whatever is said, and die after so many sounds."""

    names, drafts = "parrot", True

    def __init__(self, words: str = SAID[0], dies_after: int = 1000) -> None:
        self.words, self.left = words, dies_after
        self.heard: list[tuple[Listening, tuple[Words, ...]]] = []

    def hear(self, segment: Segment, listening: Listening, also: Sequence[Words] = ()) -> Again:
        if self.left == 0:
            raise EngineError("it is dead", "start it again")
        self.left -= 1
        self.heard.append((listening, tuple(also)))
        meaning = understand(phrases(), self.words, listening)
        return Again(Evidence(segment), (Reading(meaning, tuple(self.words.split()), 0.97),), Draft((self.words,)))

    def draft(self, segment: Segment) -> Draft:
        return Draft(("the family agrees",))


def sound(number: int) -> Clip:
    """A sound of its own."""
    return Clip(flac(bytes([number, 0]) * 1600), 0.1)


@pytest.fixture
def session() -> Iterator[Session]:
    session = open_case(cases_folder(None), "night", load("three-lumen"), TYPED, Keeping(sound="all"))
    for at, words in enumerate(SAID):
        origin = Origin(heard=words, engine="vosk+people", confidence=0.95)
        session.take(understand(phrases(), words), at, at, origin, sound(at))
    session.take(Understood(items=(Entry(kind="note", value="follows"),)), 4, 4, Origin(), None)
    session.keep_note(5, 5, Origin(), sound(5))
    yield session
    session.case.close()


def hear(session: Session, ears: Any) -> list[tuple[int, int]]:
    """Hears what is left; what the progress was."""
    seen: list[tuple[int, int]] = []

    def went_on(number: int, of: int) -> bool:
        seen.append((number, of))
        return True

    relisten(session, ears, lambda batch: written(session, batch, ears.names, session.time(60)), went_on)
    return seen


def test_every_sound_is_heard_once_and_what_differs_waits(session: Session) -> None:
    ears = Parrot()
    assert hear(session, ears) == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert ears.heard[1][1] == (("gastric", "one", "zero", "zero", "in"),), "what is in the log is compared"
    found = [(one.differs, one.number, one.text) for one in waiting(session.record)]
    assert found == [
        ("other number", 2, SAID[0]), ("other entry", 3, SAID[0]), ("words", 4, "the family agrees")
    ]  # fmt: skip
    assert [line.entry for line in session.record.lines[:2]] == [gastric(50), gastric(100)], "and nothing is changed"
    assert hear(session, ears) == [] and not left_to_hear(session.record, "parrot").sounds


def test_what_was_heard_before_an_engine_died_is_not_heard_again(session: Session) -> None:
    with pytest.raises(EngineError):
        hear(session, Parrot(dies_after=2))
    assert [len(fact.sha256) for fact in session.record.heard_again] == [2]
    assert hear(session, Parrot()) == [(3, 4), (4, 4)]
    assert len(waiting(session.record)) == 3


def test_more_ears_hear_everything_again_and_lay_no_difference_twice(session: Session) -> None:
    hear(session, Parrot())
    more = Parrot()
    more.names = "parrot+words"
    assert len(hear(session, more)) == 4
    assert len(session.record.differences) == 3
    assert not left_to_hear(session.record, "words").sounds, "more ears have heard it than these"


def test_a_question_that_was_open_then_is_open_again(session: Session) -> None:
    session.take(understand(phrases(), "gastric fifty in"), 20, 20, Origin(heard="gastric fifty in"), sound(20))
    session.take(understand(phrases(), "five zero", Listening(question_open=True)), 25, 25, Origin(), sound(25))
    *_, asked, answer = (one for one in kept_sounds(session.record) if one.role != "note")
    assert (asked.role, answer.role) == ("entry", "change")
    assert [listening(session.record, one).question_open for one in (asked, answer)] == [False, True]
    ears = Parrot("six zero")
    hear(session, ears)
    found = [(one.differs, one.number) for one in waiting(session.record) if one.origin.sound == answer.sounds[0]]
    assert found == [("other number", asked.made[0].number)]


def test_the_command_hears_lists_takes_and_leaves(session: Session, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    session.close(60, "end of typing")

    @contextmanager
    def parrot(*_: object) -> Iterator[Parrot]:
        yield Parrot()

    monkeypatch.setattr(relisten_command, "second_ears", parrot)
    told = run("relisten", "night").done()
    assert "4 of 4 sounds heard again; 3 differences: 0 reviewed (0 taken, 0 left), 3 remain" in told
    assert 'heard again: gastric volume in 50 mL "gastric five zero in"' in told
    run("relisten", "night", "--take", "1", "--author", "nurse").done()
    run("relisten", "night", "--leave", "2", "--reason", "I saw the clamp").done()
    run("relisten", "night", "--take", "3", "--words", "the family agree").done()
    plain = json.loads(run("relisten", "night", "--json").done())
    assert [plain[key] for key in ("sounds", "heard", "taken", "left", "remain")] == [4, 4, 2, 1, 0]
    facts = store.read(cases_folder(None), "night").facts
    assert sum(isinstance(fact, SoundsHeardAgain) for fact in facts) == 1
    run("undo", "night", "--author", "nurse", "--reason", "not what was said").done()
    assert "1 remains" in run("relisten", "night").done()


def test_a_case_without_sound_has_nothing_to_hear_again(run: Run) -> None:
    open_case(cases_folder(None), "mute", load("three-lumen"), TYPED, Keeping(sound="none")).close(1, "end")
    run("relisten", "mute").refused(3, "mute keeps no sound")
