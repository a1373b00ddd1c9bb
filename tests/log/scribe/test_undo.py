"""What was done by hand can be taken back, as far back as one likes, and all of it stays readable."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from log.basics.entry import Entry, Question, Understood
from log.basics.errors import InputError
from log.exports import FORMATS
from log.facts.events import AcknowledgementUndone, ChangeUndone, EntryRestored, NotUnderstoodHeard
from log.facts.origin import Origin
from log.rules.definitions import load
from log.scribe.correct import Correction
from log.scribe.opening import Keeping, try_out
from log.scribe.session import TYPED, Session
from log.store.verify import doubts
from tests.cases import whole_of

GASTRIC_50 = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
GASTRIC_60 = Entry(kind="volume_in", site="gastric", value=60, unit="mL")
PRESSURE_60 = Entry(kind="pressure", site="oesophageal", value=60, unit="mmHg")
SURE = Question(candidates=(GASTRIC_50, GASTRIC_60), why="sound alike", text="50 and 60 sound alike")


class Hand:
    """A case with lines 1 (50 mL), 2 (a pressure beyond its limit) and 3 (an open question), and a scribe."""

    def __init__(self) -> None:
        self.session: Session = try_out(load("three-lumen"), TYPED, Keeping())
        said: tuple[Entry | Question, ...] = (GASTRIC_50, PRESSURE_60, SURE)
        for at, item in enumerate(said):
            self.session.take(Understood(items=(item,)), at, at, Origin(by="voice", author="operator"))
        self.minutes = 0

    def by(self) -> Correction:
        self.minutes += 1
        return Correction("scribe", "by hand", self.now, "")

    @property
    def now(self) -> datetime:
        return self.session.began + timedelta(minutes=self.minutes)

    def state(self) -> list[tuple[str, Entry, datetime]]:
        return [(line.status, line.entry, line.said_at) for line in self.session.record.lines]

    def acknowledged(self) -> list[bool]:
        record = self.session.record
        return [record.acknowledged(found) is not None for found in record.open_findings]


ACTS: dict[str, Callable[[Hand], object]] = {
    "strike": lambda hand: hand.session.strike(1, hand.by()),
    "strike a question": lambda hand: hand.session.strike(3, hand.by()),
    "amend": lambda hand: hand.session.amend(1, GASTRIC_60, None, hand.by()),
    "amend the time": lambda hand: hand.session.amend(2, None, hand.session.began, hand.by()),
    "answer": lambda hand: hand.session.amend(3, GASTRIC_60, None, hand.by()),
    "acknowledge": lambda hand: hand.session.acknowledge(hand.session.record.open_findings[0], hand.by()),
}


@pytest.mark.parametrize("name", ACTS)
def test_what_was_done_by_hand_is_taken_back(name: str) -> None:
    hand = Hand()
    before = hand.state(), hand.acknowledged()
    assert hand.acknowledged(), "a finding is open"
    ACTS[name](hand)
    assert (hand.state(), hand.acknowledged()) != before
    hand.session.undo(hand.by())
    assert (hand.state(), hand.acknowledged()) == before
    assert hand.session.course.findings(hand.now) == Hand().session.course.findings(hand.now)


def test_a_late_entry_that_is_taken_back_counts_no_more() -> None:
    hand = Hand()
    hand.session.enter_late(GASTRIC_60, hand.session.began, hand.by())
    hand.session.undo(hand.by())
    assert hand.session.record.line(4).status == "struck"
    assert hand.session.record.line(4).entry == GASTRIC_60
    with pytest.raises(InputError, match="nothing was changed"):
        hand.session.undo(hand.by())


def test_one_goes_back_as_far_as_one_likes() -> None:
    hand = Hand()
    states = []
    for act in (ACTS["amend"], ACTS["strike"], ACTS["answer"], ACTS["acknowledge"]):
        states.append((hand.state(), hand.acknowledged()))
        act(hand)
    for state in reversed(states):
        hand.session.undo(hand.by())
        assert (hand.state(), hand.acknowledged()) == state
    with pytest.raises(InputError, match="nothing was changed"):
        hand.session.undo(hand.by())


def test_put_it_back_by_voice_takes_back_what_was_done_last() -> None:
    hand = Hand()
    ACTS["strike"](hand)
    ACTS["acknowledge"](hand)
    said = Understood(items=(Entry(kind="restore"),))
    kinds = [hand.session.take(said, at, at, Origin(by="voice"))[0] for at in (300, 301, 302)]
    assert [type(fact) for fact in kinds] == [AcknowledgementUndone, EntryRestored, NotUnderstoodHeard]
    assert kinds[-1].reason == "there is nothing to put back"  # type: ignore[union-attr]


def test_a_finding_that_no_longer_holds_is_not_to_be_acknowledged_again() -> None:
    hand = Hand()
    ACTS["amend"](hand)
    ACTS["acknowledge"](hand)
    hand.session.strike(2, hand.by())  # the pressure, and its finding with it
    assert isinstance(hand.session.undo(hand.by())[0], EntryRestored)
    hand.session.strike(2, hand.by())
    hand.session.undo(hand.by())
    assert isinstance(hand.session.undo(hand.by())[0], AcknowledgementUndone | ChangeUndone)


def test_what_was_taken_back_stays_readable_and_the_case_verifies() -> None:
    hand = Hand()
    ACTS["amend"](hand)
    hand.session.undo(hand.by())
    links, head = hand.session.case.links(), hand.session.case.head()
    assert not doubts(links, head)
    case = whole_of([link.fact for link in links])
    for name in ("note", "csv", "audit", "timeline", "fhir"):
        assert "undone" in str(FORMATS[name].write(case)), name
