"""`units`, `transfer` and `watch` as people run them, and the calendar file read back."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from log.exports.calendar import calendar
from log.facts.events import EntryLogged
from log.facts.origin import Origin
from log.facts.record import fold
from log.store import case as store
from log.store.chain import linked
from log.store.folder import cases_folder
from log.store.keys import signer
from log.watch.due import Watch
from log.watch.item import Item
from tests.cases import definition, opened
from tests.tui.conftest import Run
from voice.meaning.matcher import one_entry

BEGAN = datetime(2026, 10, 4, 14, 0, tzinfo=UTC)
WORDS = (
    "airway secured",
    "both balloons leak test passed",
    "tube in",
    "tube at five five at the lips",
    "air heard over the stomach",
    "gastric five zero in",
    "x-ray confirms position",
    "gastric two zero zero in",
    "traction one kilo weight on",
    "mark at five two at the lips",
    "still bleeding",
    "oesophageal six zero in",
    "oesophageal pressure four zero",
)
LATER = (
    (3600, "oesophageal pressure three nine"),
    (7200, "oesophageal pressure three eight"),
    (7260, "bleeding stopped"),
)


@pytest.fixture
def bay_4(tmp_path: Path) -> str:
    """A case that began at 14:00 UTC, with a placed tube and some hours of watching."""
    in_force, phrases = definition()
    said = [*enumerate(WORDS), *LATER]
    facts = [
        EntryLogged(
            logged_at=BEGAN + timedelta(seconds=second),
            said_at=BEGAN + timedelta(seconds=second),
            number=number,
            entry=one_entry(phrases, words),
            origin=Origin(),
        )
        for number, (second, words) in enumerate(said, start=1)
    ]
    first = opened(in_force, logged_at=BEGAN, case="bay-4", public_key=signer().public_key)
    with store.create(cases_folder(), first) as case:
        case.append(facts, fold([first, *facts]).summary)
    return "bay-4"


def as_of(hours: float) -> tuple[str, str]:
    return "--now", (BEGAN + timedelta(hours=hours)).isoformat()


# ---- units ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "line", "warning"),
    [
        (("30", "mmHg"), "30 mmHg = 4 kPa = 40.79 cmH2O", "48 cmH2O is 35.3 mmHg"),  # reference 1.14 and 6
        (("30mmHg",), "30 mmHg = 4 kPa = 40.79 cmH2O", "P6"),
        (("3", "kPa"), "3 kPa = 22.5 mmHg = 30.59 cmH2O", "P6"),
        (("40 cmH2O",), "40 cmH2O = 29.4 mmHg = 3.923 kPa", "P6"),
        (("1", "kg"), "1 kg = 9.807 N", "pulley"),  # reference 6.1
        (("50", "mL"), "50 mL", "A volume is not a pressure"),
    ],
)
def test_units(run: Run, arguments: tuple[str, ...], line: str, warning: str) -> None:
    first, *between, last = run("units", *arguments).done().splitlines()
    assert first == line
    assert warning in last
    assert [("NIST SP 811" in text) for text in between] == ([] if "mL" in line else [True])


def test_units_for_other_programs(run: Run) -> None:
    found = json.loads(run("units", "30", "mmHg", "--json").done())
    assert found["given"] == {"value": 30, "unit": "mmHg"}
    assert found["same"]["kPa"] == pytest.approx(3.9996716)
    assert found["warnings"]


@pytest.mark.parametrize(
    ("text", "told"), [("30", "has no unit"), ("30 psi", '"psi" is not a unit'), ("much", "is not a number")]
)
def test_a_unit_that_cannot_be_read_is_refused(run: Run, text: str, told: str) -> None:
    run("units", text).refused(3, told)


def test_units_of_nothing_is_wrong_usage(run: Run) -> None:
    assert run("units").code == 2


# ---- transfer -------------------------------------------------------------------------------------------------------


def test_a_transfer_without_a_case(run: Run) -> None:
    told = run("transfer", "--altitude-ft", 8000, "--volume", 250).done()
    # reference 6.2: 336.6 mL, remove 64.3 to 185.7 mL
    for text in (
        "at most 336.6 mL",
        "remove 64.3 mL",
        "185.7 mL",
        "Upper bounds",
        "after landing",
        "Not a medical device",
    ):
        assert text in told
    assert max(map(len, told.splitlines())) <= 80


def test_a_transfer_of_a_case(run: Run, bay_4: str) -> None:
    found = json.loads(run("transfer", bay_4, "--altitude-ft", 8000, "--json").done())
    gastric, oesophageal = found["balloons"]
    assert (gastric["volume"], oesophageal["volume"], oesophageal["pressure"]) == (250, 60, 38)
    assert gastric["at_altitude"] == pytest.approx(336.6, abs=0.06)
    assert oesophageal["stiff_pressure"] == pytest.approx(38 + 195.5, abs=0.06)
    assert found["cautions"]
    assert found["after_landing"]
    told = run("transfer", bay_4, "--altitude-ft", 8000).done()
    assert max(map(len, told.splitlines())) <= 80
    assert "could reach 336.6 mL, above the limit (200 to 300 mL)" in told
    assert "500 mL as given" in run("transfer", bay_4, "--altitude-ft", 8000, "--volume", 500).done()


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (("--altitude-ft", "36001", "--volume", "250"), 3, "cannot be used"),
        (("--altitude-ft", "nan", "--volume", "250"), 3, "cannot be used"),
        (("--altitude-ft", "8000", "--volume", "-1"), 3, "cannot be in a balloon"),
        (("nobody", "--altitude-ft", "8000"), 3, "there is no case named"),
    ],
)
def test_a_transfer_that_cannot_be_calculated(run: Run, arguments: tuple[str, ...], code: int, told: str) -> None:
    run("transfer", *arguments).refused(code, told)


@pytest.mark.parametrize("arguments", [("--altitude-ft", "8000"), ("--volume", "250"), ("--altitude-ft", "high")])
def test_a_transfer_with_too_little_is_wrong_usage(run: Run, arguments: tuple[str, ...]) -> None:
    assert run("transfer", *arguments).code == 2


# ---- watch ----------------------------------------------------------------------------------------------------------


def test_the_watch_is_one_screen(run: Run, bay_4: str) -> None:
    told = run("watch", bay_4, *as_of(2.5)).done()
    lines = told.splitlines()
    assert lines[0] == "bay-4 at 2026-10-04 16:30+00:00, according to the log"
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    for text in (
        "OVERDUE  1:29 ago       15:00 !   traction: mass and kind",
        "next      in 0:30       17:00 !   1 h since the last oesophageal pressure",
        "next      in 2:31       19:01 !   oesophageal pressure down to 33 mmHg",
        "gastric      up 2:29 since 14:00; 250 mL; no pressure",
        "step-down    from 38 mmHg at 16:01; to come 33 at 19:01, 28 at 22:01, 25 at",
        "leak         oesophageal too few to say: 3 of 5 readings",
        "deflation: your site has set no interval",
        "bundle       airway 14:00; NOT LOGGED: vasoactive, antibiotic, endoscopy, plan",
        "Not a medical device",
    ):
        assert text in told


def test_the_watch_for_other_programs(run: Run, bay_4: str) -> None:
    found = json.loads(run("watch", bay_4, "--json", *as_of(2.5)).done())
    assert (found["case"], found["placed"], found["now"]) == ("bay-4", True, "2026-10-04T16:30:00+00:00")
    assert [one["when"] for one in found["items"][:4]] == ["overdue", "overdue", "overdue", "next"]
    assert found["step_down"]["state"] == "running"
    assert found["trends"][1]["mmHg_per_h"] is None
    assert found["night"]["antibiotic"] is None and found["night"]["bridge_ends"]
    assert found["cautions"]


def test_a_time_before_the_case_cannot_be_used(run: Run, bay_4: str) -> None:
    run("watch", bay_4, "--now", "2026-10-04T13:59:59Z").refused(3, "is before the case was opened")
    run("watch", bay_4, "--now", "2026-10-04T14:00:00Z").done()
    run("watch", bay_4, "--now", "9999-12-31T23:59:59Z").refused(3, "too far in the future")
    run("watch", bay_4, "--now", "soon").refused(3, "is not a time")
    run("watch", "nobody").refused(3, "there is no case named")


def test_a_case_without_a_tube_says_so(run: Run) -> None:
    run("say", "--case", "bay-5", "airway secured").done()
    assert "no tube is in: there is nothing to watch" in run("watch", "bay-5").done()


# ---- the calendar ---------------------------------------------------------------------------------------------------


def events(path: Path) -> list[Any]:
    return events_of(path.read_bytes())


def events_of(written: bytes) -> list[Any]:
    import icalendar  # not at collection: it takes a while

    return list(icalendar.Calendar.from_ical(written).walk("VEVENT"))


def test_the_calendar_is_read_back(run: Run, bay_4: str, tmp_path: Path) -> None:
    path = tmp_path / "due.ics"
    told = run("watch", bay_4, "--calendar", path, *as_of(2.5)).done()
    found = events(path)
    names = [str(event["summary"]) for event in found]
    starts = {name: event["dtstart"].dt for name, event in reversed(list(zip(names, found, strict=True)))}
    assert starts["Tube watch: traction: mass and kind"] == BEGAN + timedelta(hours=2.5)  # overdue: now
    assert starts["Tube watch: 12 h since gastric inflation"] == BEGAN + timedelta(hours=12, seconds=5)
    assert starts["Tube watch: oesophageal pressure down to 33 mmHg"] == BEGAN + timedelta(seconds=7260, hours=3)
    last = "Tube watch: oesophageal pressure down to 25 mmHg, if the step before was on time"
    assert starts[last] == BEGAN + timedelta(seconds=7260, hours=9)
    pressures = [e["dtstart"].dt for e in found if "last oesophageal pressure" in str(e["summary"])]
    assert pressures[:2] == [BEGAN + timedelta(hours=3), BEGAN + timedelta(hours=4)]
    assert max(pressures) <= BEGAN + timedelta(hours=24, seconds=7)
    for event in found:
        for caution in (
            "Not a medical device",
            "Local protocol",
            "Read every number",
            "As the log stood at 2026-10-04 16:30",
        ):
            assert caution in str(event["description"])
        assert event.walk("VALARM")
        assert event["dtstart"].dt >= BEGAN + timedelta(hours=2.5)
    assert len({str(event["uid"]) for event in found}) == len(found)
    assert "OVERDUE" in told
    assert "bay" not in path.read_text(encoding="utf-8")  # neither the case's name nor its label travels
    assert path.stat().st_mode & 0o077 == 0


def test_the_same_moment_gives_the_same_calendar_and_a_later_one_moves_it(run: Run, bay_4: str, tmp_path: Path) -> None:
    one, two, later = (tmp_path / f"{name}.ics" for name in ("one", "two", "later"))
    for path, hours in ((one, 2.5), (two, 2.5), (later, 2.75)):
        run("watch", bay_4, "--calendar", path, *as_of(hours)).done()
    assert one.read_bytes() == two.read_bytes()
    first, moved = events(one)[0], events(later)[0]
    assert first["uid"] == moved["uid"]
    assert moved["sequence"] > first["sequence"]
    assert moved["dtstart"].dt - first["dtstart"].dt == timedelta(minutes=15)


def test_who_knows_the_name_of_a_case_cannot_guess_what_its_reminders_are_called() -> None:
    """A case that nobody names is called after its second. The key of the machine is in nobody's head."""
    in_force, _ = definition()

    def reminders(key: str) -> set[str]:
        first = opened(in_force, logged_at=BEGAN, case="20261004-140000", public_key=key)
        (opening,) = linked([first])
        found = Watch(BEGAN, placed=True, items=(Item("mark", "mark at the lips", BEGAN, "due", "P1"),))
        return {str(event["uid"]) for event in events_of(calendar(in_force.procedure, opening.sha256, found))}

    assert reminders("a" * 64) == reminders("a" * 64)
    assert not reminders("a" * 64) & reminders("b" * 64)


def test_a_calendar_needs_a_folder_and_its_library(
    run: Run, bay_4: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run("watch", bay_4, "--calendar", tmp_path / "none" / "x.ics").refused(3, "there is no such folder")
    monkeypatch.setitem(sys.modules, "icalendar", None)
    run("watch", bay_4, "--calendar", tmp_path / "x.ics").refused(3, "pip install 'tamponade-log[calendar]'")
