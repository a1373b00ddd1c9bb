"""What a second hearing finds changes nothing until somebody takes it; taken or left, it can be taken back."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from log.basics.entry import Entry, Understood
from log.basics.errors import InputError
from log.exports import FORMATS
from log.facts.events import DifferenceHeard, Differs
from log.facts.origin import Origin
from log.facts.second_hearing import kept_sounds, reviewed, waiting
from log.rules.definitions import load
from log.scribe.correct import Correction, last_act
from log.scribe.opening import Keeping, try_out
from log.scribe.session import TYPED, Clip, Session
from log.store.verify import doubts
from log.words.second_hearing import progress_in_words
from tests.cases import gastric, whole_of

SAID = (gastric(50), Entry(kind="clamp", site="gastric", value="on"), Entry(kind="note", value="follows"))


class Desk:
    """A case with three spoken lines, the third a spoken note, in which nothing was heard a second time yet."""

    def __init__(self) -> None:
        self.session: Session = try_out(load("three-lumen"), TYPED, Keeping(sound="all"))
        for at, entry in enumerate(SAID):
            origin = Origin(by="voice", author="operator", heard=entry.kind)
            self.session.take(Understood(items=(entry,)), at, at, origin, Clip(bytes([at]), 1.0))
        self.session.keep_note(3, 5, Origin(), Clip(b"note", 2.0))
        self.minutes = 0

    def found(self, differs: Differs, number: int | None, entry: Entry | None = None, text: str = "") -> int:
        """One difference, laid beside the log; gives its number."""
        record = self.session.record
        number_of_it = len(record.differences) + 1
        sounds = [name for one in kept_sounds(record) for name in one.names]
        heard = DifferenceHeard(
            logged_at=self.now, difference=number_of_it, differs=differs, number=number, entry=entry,
            said_at=self.session.began + timedelta(seconds=1), origin=Origin(heard="as heard"), text=text,
        )  # fmt: skip
        self.session.heard_again(sounds, (heard,), "vosk+people", self.now)
        return number_of_it

    def by(self, reason: str = "", typed: str = "") -> Correction:
        self.minutes += 1
        return Correction("nurse", reason, self.now, typed)

    @property
    def now(self) -> datetime:
        return self.session.began + timedelta(minutes=1 + self.minutes)

    @property
    def state(self) -> list[tuple[str, Entry]]:
        return [(line.status, line.entry) for line in self.session.record.lines]

    def undo(self) -> None:
        self.session.undo(self.by("put back"))


FINDS: tuple[tuple[Differs, int | None, Entry | None, str], ...] = (
    ("other number", 1, gastric(15), ""),
    ("logged, not said", 2, None, ""),
    ("said, not logged", None, Entry(kind="tube", value="in"), ""),
    ("words", 3, None, "the family agrees"),
    ("words", None, None, "call the bank"),
)


@pytest.fixture
def desk() -> Desk:
    return Desk()


@pytest.mark.parametrize("find", FINDS, ids=lambda find: f"{find[0]} {find[1]}")
def test_what_is_taken_changes_the_log_like_any_correction_and_comes_back_with_undo(desk: Desk, find: Any) -> None:
    before, transcribed = desk.state, dict(desk.session.record.transcribed)
    number = desk.found(*find)
    assert (desk.state, len(waiting(desk.session.record))) == (before, 1), "hearing again changes nothing"
    desk.session.take_difference(number, desk.by())
    record = desk.session.record
    assert not waiting(record) and record.reviews[number].author == "nurse"
    changed = desk.state != before or dict(record.transcribed) != transcribed
    assert changed != (find[0] == "words" and find[1] is None), "words of no line stand in the review alone"
    desk.undo()
    assert (desk.state[: len(before)], dict(desk.session.record.transcribed)) == (before, transcribed)
    assert [one.difference for one in waiting(desk.session.record)] == [number], "it waits to be reviewed again"
    assert last_act(desk.session.record) is None


def test_taking_amends_strikes_enters_late_and_transcribes(desk: Desk) -> None:
    for find in FINDS:
        desk.session.take_difference(desk.found(*find), desk.by(typed="call the blood bank" if find[1] is None else ""))
    record = desk.session.record
    assert [line.status for line in record.lines] == ["stands", "struck", "stands", "stands"]
    assert record.lines[0].entry == gastric(15) and record.lines[0].changes[-1].reason == "heard again"
    assert (record.lines[3].late_reason, record.lines[3].entry.kind) == ("heard again", "tube")
    assert record.transcribed[3].text == "the family agrees"
    assert record.reviews[5].text == "call the blood bank", "as somebody corrected the draft"
    found = reviewed(record)
    assert found is not None and (found.taken, found.left, found.waiting) == (5, 0, ())


def test_what_is_left_needs_a_reason_and_an_author(desk: Desk) -> None:
    number = desk.found(*FINDS[0])
    with pytest.raises(InputError, match="reason"):
        desk.session.leave_difference(number, desk.by())
    before = desk.state
    desk.session.leave_difference(number, desk.by("I said fifty"))
    assert desk.state == before and not waiting(desk.session.record)
    with pytest.raises(InputError, match="none waits"):
        desk.session.take_difference(number, desk.by())
    desk.undo()
    assert len(waiting(desk.session.record)) == 1


def test_a_later_correction_of_a_line_is_undone_without_the_review(desk: Desk) -> None:
    desk.session.take_difference(desk.found(*FINDS[0]), desk.by())
    desk.session.amend(1, gastric(60), None, desk.by("measured"))
    desk.undo()
    assert desk.state[0] == ("stands", gastric(15)) and not waiting(desk.session.record)


def test_a_line_that_says_by_now_what_was_heard_needs_no_review(desk: Desk) -> None:
    desk.found(*FINDS[0])
    desk.session.amend(1, gastric(15), None, desk.by("misread"))
    found = reviewed(desk.session.record)
    assert found is not None and (found.settled, found.waiting) == (1, ())


def test_note_debriefing_and_audit_say_how_many_were_reviewed_and_how_many_remain(desk: Desk) -> None:
    for find in FINDS[:3]:
        desk.found(*find)
    desk.session.take_difference(1, desk.by())
    desk.session.leave_difference(2, desk.by("clamped, I saw it"))
    links = desk.session.case.links()
    assert not list(doubts(links, desk.session.case.head()))
    case = whole_of([link.fact for link in links])
    told = progress_in_words(reviewed(case.record))  # type: ignore[arg-type]
    assert told == "4 of 4 sounds heard again; 3 differences: 2 reviewed (1 taken, 1 left), 1 remains"
    note = str(FORMATS["note"].write(case))
    assert told in note and "differences to be reviewed" in note.split("Procedure\n")[0]
    audit = str(FORMATS["audit"].write(case))
    assert "difference taken" in audit and "difference left" in audit and "second hearing: other number" in audit
