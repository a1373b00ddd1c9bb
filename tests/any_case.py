"""Cases as a room might make them: whatever can be said, asked, answered, corrected or entered late, in any order,
played through the same functions as a real case.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from hypothesis import strategies as st

from log.basics.entry import Entry, NotUnderstood, Question, Understood
from log.basics.errors import InputError
from log.definition.procedure import Procedure
from log.facts.events import CaptureGap, CaseOpened, EntryAmended, Fact
from log.facts.origin import Origin
from log.facts.record import Record, fold
from log.rules.course import Course
from log.scribe import correct
from log.scribe.correct import Correction
from log.scribe.decide import Heard, decide
from log.scribe.decided import Decided, added, with_findings
from tests.cases import BEGAN


def _entry(
    kind: str, site: str | None, value: float | str, unit: str | None = None, detail: str | None = None
) -> Entry:
    return Entry(kind=kind, site=site, value=value, unit=unit, detail=detail)


_SITES = ("gastric", "oesophageal")
ENTRIES = (
    *(_entry("volume_in", site, volume, "mL") for site in _SITES for volume in (15, 50, 200)),
    *(_entry("volume_out", site, volume, "mL") for site in _SITES for volume in (15, 50, 250)),
    *(_entry("volume_total", site, volume, "mL") for site in _SITES for volume in (0, 50, 250)),
    *(_entry("pressure", "oesophageal", pressure, "mmHg") for pressure in (0, 12, 35, 60)),
    _entry("pressure", "gastric", 20, "mmHg"),
    Entry(kind="pressure", value=48, unit="mmHg"),
    *(_entry("balloon", site, value) for site in (*_SITES, "both") for value in ("up", "down")),
    *(_entry("tube", None, value) for value in ("in", "in", "out", "secured")),
    *(_entry("xray", None, value) for value in ("requested", "taken", "confirmed", "confirmed", "not_confirmed")),
    _entry("depth", "lips", 48, "cm"),
    _entry("depth", "lips", 52.5, "cm"),
    _entry("depth", "teeth", 52, "cm"),
    _entry("traction", None, 0.5, "kg", "weight"),
    _entry("traction", None, 3, "kg"),
    _entry("traction", None, "on"),
    _entry("traction", None, "fixed", detail="at the lips"),
    _entry("traction", None, "off"),
    _entry("leak_test", "both", "passed"),
    _entry("leak_test", "gastric", "failed"),
    _entry("airway", None, "secured"),
    _entry("position_check", None, "passed"),
    _entry("position_check", None, "failed", detail="air heard over the lungs"),
    Entry(kind="leak_test", site="gastric", value="started", second=250, second_unit="mL"),
    *(Entry(kind="manometry", site="gastric", value=p, unit="mmHg", second=50, second_unit="mL") for p in (4, 5)),
    *(_entry("scissors", None, value) for value in ("missing", "at the bedside")),
    *(_entry("kit", None, value, detail="manometer") for value in ("missing", "ready")),
    *(_entry("companion", site, value) for site in _SITES for value in ("marked", "at mark")),
    *(_entry("clamp", "gastric", value) for value in ("on", "off")),
    *(_entry("emergency", None, value) for value in ("airway", "cut", "over")),
    *(_entry("skin", None, value) for value in ("intact", "broken")),
    _entry("resistance", None, "felt"),
    _entry("removal", None, "begun"),
    _entry("bleeding", None, "continuing"),
    _entry("aspirate", "gastric", 400, "mL"),
    Entry(kind="mark"),
)
COMMANDS = (
    Entry(kind="undo"),
    Entry(kind="restore"),
    Entry(kind="confirm"),
    Entry(kind="number", value=50),
    Entry(kind="number", value=15),
    Entry(kind="correct", value=30),
    Entry(kind="correct", value=200, site="gastric", unit="mL"),
    Entry(kind="correct", value=44, site="oesophageal", unit="mmHg"),
    Entry(kind="correct", value=50, unit="cm"),
)

Action = tuple[str, int, int, int]
"""What is done, with which two things, and how many minutes later."""

ACTIONS: st.SearchStrategy[Action] = st.tuples(
    st.sampled_from(
        ["say"] * 8
        + ["breath", "ask", "order", "order", "strike", "amend", "move", "move", "late", "late"]
        + ["look", "mumble", "gap", "unstrike", "undo"]
    ),
    st.integers(0, 10**4),
    st.integers(0, 10**4),
    st.sampled_from([0, 0, 1, 1, 1, 7, 61, 13 * 60]),
)
CASES = st.lists(ACTIONS, max_size=40)


@dataclass(frozen=True, slots=True)
class Played:
    """A case after one more action."""

    now: datetime
    new: tuple[Fact, ...]
    record: Record
    course: Course


def played(procedure: Procedure, actions: Sequence[Action], opened: CaseOpened) -> Iterator[Played]:
    """The case after its opening, and after each action that led to a fact or could have."""
    now, record, course = opened.logged_at, fold([opened]), Course(procedure)
    yield Played(now, (opened,), record, course)
    for action in actions:
        now += timedelta(minutes=action[3])
        try:
            decided = _decided(course, record, now, action)
        except (InputError, IndexError):  # what nobody may do
            continue
        record, course = decided.record, decided.course
        yield Played(now, decided.facts, record, course)


def facts_played(procedure: Procedure, actions: Sequence[Action], opened: CaseOpened) -> list[Fact]:
    """All facts of such a case."""
    return [fact for moment in played(procedure, actions, opened) for fact in moment.new]


def _decided(course: Course, record: Record, now: datetime, action: Action) -> Decided:
    what, a, b, _ = action
    one, other = ENTRIES[a % len(ENTRIES)], ENTRIES[b % len(ENTRIES)]
    number = 1 + a % max(len(record.lines), 1)
    earlier = BEGAN + timedelta(minutes=b % 90)
    by = Correction("scribe", "misheard", now)
    match what:
        case "say":
            return _heard(course, record, now, one)
        case "breath":
            return _heard(course, record, now, one, other)
        case "ask":
            return _heard(course, record, now, Question(candidates=(one, other), why="sound alike", text="sound alike"))
        case "order":
            return _heard(course, record, now, COMMANDS[a % len(COMMANDS)])
        case "mumble":
            return decide(course, record, Heard(NotUnderstood(heard="mind the cable"), now, now, Origin()))
        case "gap":
            gap = CaptureGap(logged_at=now, began_at=min(earlier, now), seconds=b / 8, reason="unplugged")
            return added(course, record, (gap,))
        case "look":
            return with_findings(course, record, (), now)
        case "strike":
            return with_findings(course, record, (correct.strike(record, number, by),), now)
        case "undo":
            return with_findings(course, record, (correct.undo(record, by),), now)
        case "amend":
            return with_findings(course, record, (correct.amend(record, number, other, None, by),), now)
        case "move":
            new = other if b % 2 else None
            return with_findings(course, record, (correct.amend(record, number, new, earlier, by),), now)
        case "late":
            return with_findings(course, record, (correct.enter_late(record, one, earlier, by),), now)
        case _:  # no scribe can, but a file may say so
            again = EntryAmended(
                logged_at=now,
                number=record.line(number).number,
                entry=other,
                said_at=now,
                reason="",
                origin=Origin(),
                happened_at=min(earlier, now),
            )
            return with_findings(course, record, (again,), now)


def _heard(course: Course, record: Record, now: datetime, *items: Entry | Question) -> Decided:
    return decide(course, record, Heard(Understood(items=items), now, now, Origin(heard="as said")))
