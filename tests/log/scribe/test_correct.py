"""What is asked of a medical record when it is corrected or completed afterwards: one test for each published
expectation, with its source. The sources were read as extracts; their words are our own.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from log.basics.entry import Entry, Question, Understood
from log.basics.errors import InputError
from log.exports import FORMATS
from log.facts.events import EntryAmended, EntryLogged, EntryStruck, QuestionAnswered
from log.facts.origin import Origin
from log.rules.definitions import load
from log.scribe.correct import Correction
from log.scribe.opening import Keeping, open_case, resume
from log.scribe.session import TYPED, Session
from log.store import case as store
from log.store.verify import verify
from log.summaries.whole import Whole, whole

BEGAN = datetime(2026, 3, 4, 2, 0, tzinfo=UTC)
LATER = BEGAN + timedelta(hours=3)
GASTRIC_50 = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
GASTRIC_15 = Entry(kind="volume_in", site="gastric", value=15, unit="mL")
DEPTH_52 = Entry(kind="depth", site="lips", value=52, unit="cm")
FIFTEEN_OR_FIFTY = Question(candidates=(GASTRIC_15, GASTRIC_50), why="sound alike", text="15 and 50 sound alike")
TEXTS = ("note", "csv", "audit", "jsonl", "timeline", "fhir")


def by(reason: str = "misread the syringe", author: str = "scribe A", at: datetime = LATER) -> Correction:
    return Correction(author, reason, at, "as typed")


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    """A case with two lines and an open question, resumed three hours later by a scribe."""
    begun = open_case(tmp_path, "night", load("three-lumen"), TYPED, Keeping(author="operator"), BEGAN)
    begun.take(Understood(items=(GASTRIC_50,)), 60, 61, Origin(heard="gastric in five zero"))
    begun.take(Understood(items=(DEPTH_52,)), 90, 91, Origin(heard="tube at five two"))
    begun.take(Understood(items=(FIFTEEN_OR_FIFTY,)), 120, 121, Origin(heard="gastric in fifty"))
    begun.close(200, "end of typing")
    again = resume(tmp_path, "night", TYPED, "scribe A", LATER)
    yield again
    again.case.close()


def told(session: Session) -> Whole:
    return whole(store.read(session.case.path.parent, "night"))


def text(session: Session, name: str) -> str:
    written = FORMATS[name].write(told(session))
    assert isinstance(written, str)
    return written


def audit(session: Session) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text(session, "audit"), newline="")))


# ---- corrections: CMS Program Integrity Manual, chapter 3, 3.3.2.5 [published: P63, P64, P65] ----------------------


def test_an_amendment_is_marked_as_one(session: Session) -> None:
    """Whoever reads the record can tell an amendment from an original entry: P63."""
    session.amend(1, GASTRIC_15, None, by())
    assert "amended" in text(session, "note")
    assert audit(session)[-1]["what"] in ("amended", "finding raised", "finding settled")
    assert [row["what"] for row in audit(session)].count("amended") == 1


def test_an_amendment_has_its_date_and_author(session: Session) -> None:
    """Date and author of each change: P63."""
    (fact, *_) = session.amend(1, GASTRIC_15, None, by())
    assert isinstance(fact, EntryAmended)
    assert (fact.logged_at, fact.origin.author) == (LATER, "scribe A")
    row = next(row for row in audit(session) if row["what"] == "amended")
    assert (row["author"], row["logged_at"]) == ("scribe A", "2026-03-04T05:00:00.000+00:00")
    assert "scribe A" in text(session, "note")


@pytest.mark.parametrize("name", TEXTS)
def test_the_original_stays_readable_everywhere(session: Session, name: str) -> None:
    """Nothing is deleted and the original content can be read: P63, P65; 21 CFR 11.10(e), P57."""
    session.amend(1, GASTRIC_15, None, by())
    session.strike(2, by("not this patient's tube"))
    written = text(session, name)
    assert "50 mL" in written or '"value":50' in written or ",50," in written or '"value": 50' in written, "the amended"
    assert "52" in written, "the struck"


def test_a_struck_entry_is_struck_through_and_not_gone(session: Session) -> None:
    """On paper one line through it, signed and dated; on screen the same can be seen: P63."""
    session.strike(2, by("not this patient's tube"))
    assert "~~tube depth 52 cm at the lips~~" in text(session, "note")
    line = told(session).record.line(2)
    assert (line.status, line.entry) == ("struck", DEPTH_52)


@pytest.mark.parametrize("unsigned", [by(author=" "), by(reason="")], ids=["no author", "no reason"])
def test_a_change_without_author_or_reason_is_refused(session: Session, unsigned: Correction) -> None:
    """Undated or unsigned additions are disregarded: P63. So none is made."""
    before = session.case.facts()
    with pytest.raises(InputError, match="a correction needs"):
        session.strike(1, unsigned)
    with pytest.raises(InputError, match="a correction needs"):
        session.amend(1, GASTRIC_15, None, unsigned)
    with pytest.raises(InputError, match="a correction needs"):
        session.enter_late(GASTRIC_15, BEGAN, unsigned)
    assert session.case.facts() == before


# ---- late entries: CMS 3.3.2.5; RCP generic standards (a delayed entry states the delay and the reason) [M20] --------


def test_a_late_entry_keeps_event_time_and_entry_time_apart(session: Session) -> None:
    happened_at = BEGAN + timedelta(seconds=30)
    (fact, *_) = session.enter_late(GASTRIC_15, happened_at, by("hands were full"))
    assert isinstance(fact, EntryLogged)
    assert (fact.said_at, fact.logged_at) == (happened_at, LATER)
    row = next(row for row in audit(session) if row["what"] == "late entry")
    assert row["happened_at"] == "2026-03-04T02:00:30.000+00:00"
    assert row["logged_at"] == "2026-03-04T05:00:00.000+00:00"


def test_a_late_entry_is_marked_with_delay_and_reason(session: Session) -> None:
    session.enter_late(GASTRIC_15, BEGAN + timedelta(seconds=30), by("hands were full"))
    note = text(session, "note")
    assert "**late entry**, written down 05:00:00: hands were full" in note


def test_a_late_entry_counts_where_it_belongs_in_time(session: Session) -> None:
    """Fifteen before the fifty: the first volume was 15, and 65 once the second was in."""
    session.enter_late(GASTRIC_15, BEGAN + timedelta(seconds=30), by("hands were full"))
    assert [step.after.balloon("gastric").volume for step in session.course.steps][:2] == [15, 65]


def test_what_has_not_happened_yet_cannot_be_entered(session: Session) -> None:
    with pytest.raises(InputError, match="has not come yet"):
        session.enter_late(GASTRIC_15, LATER + timedelta(minutes=1), by())
    with pytest.raises(InputError, match="has not come yet"):
        session.amend(1, None, LATER + timedelta(minutes=1), by())


def test_a_wrong_time_can_be_put_right_and_both_are_kept(session: Session) -> None:
    moved_to = BEGAN + timedelta(seconds=100)
    session.amend(1, None, moved_to, by("the clock was read wrong"))
    line = told(session).record.line(1)
    assert (line.said_at, line.changes[0].moved_from) == (moved_to, BEGAN + timedelta(seconds=60))
    assert [step.line.number for step in session.course.steps] == [2, 1]
    assert "time was 02:01:00" in text(session, "note")
    row = next(row for row in audit(session) if row["what"] == "amended")
    assert "02:01:00" in row["before"] and "02:01:40" in row["after"]


# ---- the audit trail: 21 CFR 11.10(e) [P57, P58]; ICH E6(R2) 4.9.0 [P59]; ICH E6(R3) 4.2.2 [P60] ---------------------


def test_the_trail_says_who_did_what_when_to_which_entry(session: Session) -> None:
    """Computer-made and time-stamped; created, changed, deleted: 21 CFR 11.10(e)."""
    session.amend(1, GASTRIC_15, None, by())
    session.strike(2, by("not this patient's tube"))
    rows = audit(session)
    assert len(rows) == len(session.case.facts())
    done = [(row["author"], row["what"], row["line"], row["before"], row["after"]) for row in rows]
    assert ("operator", "entry logged", "1", "", "gastric volume in 50 mL") in done
    assert ("scribe A", "amended", "1", "gastric volume in 50 mL", "gastric volume in 15 mL") in done
    assert ("scribe A", "struck", "2", "tube depth 52 cm at the lips", "") in done


def test_the_reason_of_a_change_stands_in_the_trail(session: Session) -> None:
    """Changes are explained if necessary: ICH E6(R2) 4.9.0, E6(R3) 4.2.2."""
    session.amend(1, GASTRIC_15, None, by("misread the syringe"))
    assert next(row["reason"] for row in audit(session) if row["what"] == "amended") == "misread the syringe"


def test_times_are_unambiguous(session: Session) -> None:
    """Every time has its offset: ICH E6(R3) 4.2.2; RFC 3339."""
    for row in audit(session):
        assert datetime.fromisoformat(row["logged_at"]).tzinfo is not None
    for line in text(session, "jsonl").splitlines()[1:-1]:
        assert datetime.fromisoformat(json.loads(line)["logged_at"]).tzinfo is not None


def test_the_trail_cannot_be_switched_off_or_edited(session: Session) -> None:
    """A correction is a fact in the same chain as what it corrects: E6(R3) 4.2.2."""
    before = [link.text for link in told(session).links]
    session.amend(1, GASTRIC_15, None, by())
    after = [link.text for link in told(session).links]
    assert after[: len(before)] == before
    session.case.close()
    assert verify(session.case.path).problems == ()


def test_each_entry_is_attributable_contemporaneous_and_original(session: Session) -> None:
    """ICH E6(R2) 4.9.0: whose it is, when it was written down, what was first."""
    for line in told(session).record.lines:
        assert line.origin.author == "operator"
        assert timedelta(0) <= line.logged_at - line.said_at <= timedelta(seconds=1)
        assert line.origin.heard


# ---- sequence checks: 21 CFR 11.10(f) [P58] ------------------------------------------------------------------------


def test_what_cannot_be_corrected_is_reported(session: Session) -> None:
    session.strike(1, by())
    with pytest.raises(InputError, match="line 1 is struck already"):
        session.amend(1, GASTRIC_15, None, by())
    with pytest.raises(InputError, match="the log has no line 9"):
        session.strike(9, by())
    with pytest.raises(InputError, match="says that already"):
        session.amend(2, DEPTH_52, None, by())


def test_an_open_question_is_answered_by_the_scribe(session: Session) -> None:
    with pytest.raises(InputError, match="open question"):
        session.amend(3, None, BEGAN, by())
    (fact, *_) = session.amend(3, GASTRIC_50, None, by("asked the operator"))
    assert isinstance(fact, QuestionAnswered)
    assert told(session).record.line(3).status == "stands"


def test_a_correction_settles_and_raises_findings(session: Session) -> None:
    struck = session.strike(2, by("not this patient's tube"))
    assert isinstance(struck[0], EntryStruck)
    assert session.course.findings(LATER) and {f.rule for f in session.course.findings(LATER)} == {
        f.rule for f in session.record.open_findings
    }
