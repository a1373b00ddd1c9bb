"""What is due when, at each boundary: just before, at, and just after."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from log.definition.load import in_force
from log.definition.override import Override
from log.definition.procedure import Procedure
from log.rules.course import Course
from log.watch.due import Watch, watch
from log.watch.item import Item
from tests import cases
from tests.log.rules.test_rules import FOUR, THREE
from tests.log.watched import Said, at, pressures, watched

MINUTE = 1 / 60
UP: tuple[Said, ...] = ((0.1, "volume_in oesophageal 60"), (0.2, "pressure oesophageal 40"))


def look(*said: Said, now: float, procedure: Procedure | None = None, name: str = THREE) -> Watch:
    return watch(watched(*said, procedure=procedure, name=name), at(now))


def item(found: Watch, name: str) -> Item | None:
    return next((one for one in found.items if one.id == name), None)


def there(found: Watch, name: str) -> Item:
    one = item(found, name)
    assert one is not None, [one.id for one in found.items]
    return one


def local(**watched_over: object) -> Procedure:
    """The definition with what a site has set."""
    override = Override.model_validate(
        {
            "procedure": THREE,
            "approved_by": "tamponade group",
            "approved_on": date(2026, 3, 1),
            "watch": watched_over,
        }
    )
    return in_force(cases.procedure(THREE), override).procedure


# ---- next, due, overdue ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "when"),
    [(59, "next"), (60, "due"), (61, "due"), (74, "due"), (75, "due"), (76, "overdue")],
)
@pytest.mark.parametrize("name", ["traction", "mark"])
def test_what_is_looked_at_hourly(name: str, minutes: float, when: str) -> None:
    # P15: traction hourly; the mark with it is common practice, no source; 15 min of grace are derived
    assert there(look(now=minutes * MINUTE), name).when == when


@pytest.mark.parametrize(("minutes", "when"), [(59, "next"), (60, "due"), (75, "due"), (76, "overdue")])
def test_the_manometer_is_read_hourly(minutes: float, when: str) -> None:
    # P13: manometer hourly; the clock is that of the definition
    found = look((0, "volume_in oesophageal 60"), (0, "pressure oesophageal 40"), now=minutes * MINUTE)
    assert there(found, "since-oesophageal-pressure-check-1h").when == when


@pytest.mark.parametrize(
    ("said", "name", "due"),
    [
        ("traction - 1 weight", "traction", 1.5),
        ("depth lips 52", "mark", 1.5),
        ("depth lips 52", "traction", 1),
        ("pressure oesophageal 40", "since-oesophageal-pressure-check-1h", 1.5),
    ],
)
def test_what_was_looked_at_is_due_again_later(said: str, name: str, due: float) -> None:
    found = look((0, "volume_in oesophageal 60"), (0.5, said), now=0.6)
    assert there(found, name).due_at == at(due)


@pytest.mark.parametrize(
    ("minutes", "when"), [(119, "next"), (120, "due"), (121, "due"), (135, "due"), (136, "overdue")]
)
def test_skin_and_lips_are_looked_at_every_two_hours(minutes: float, when: str) -> None:
    # common practice, no source
    assert there(look(now=minutes * MINUTE), "skin").when == when
    found = look((0.5, "skin - intact"), now=(minutes + 30) * MINUTE)
    assert (there(found, "skin").due_at, there(found, "skin").when) == (at(2.5), when)
    assert there(look((0.5, "skin - broken"), now=1), "skin").due_at == at(2.5), "it was looked at"


@pytest.mark.parametrize(("hours", "when"), [(23.99, "next"), (24, "due"), (24.25, "due"), (24.26, "overdue")])
def test_there_is_an_x_ray_a_day(hours: float, when: str) -> None:
    # P16; the film that confirmed the position is the first
    assert there(look(now=hours), "daily-x-ray").when == when
    assert there(look((20, "xray - taken"), now=hours), "daily-x-ray").due_at == at(44)
    assert there(look((20, "xray - requested"), now=hours), "daily-x-ray").due_at == at(24)


@pytest.mark.parametrize(("minutes", "when"), [(14, "next"), (15, "due"), (30, "due"), (31, "overdue")])
def test_vital_signs_are_due_only_as_the_site_chose(minutes: float, when: str) -> None:
    # P13: every 5 min to 1 h, so that nothing is shipped
    procedure = local(checks={"vital": {"every_h": 0.25}})
    assert there(look(now=minutes * MINUTE, procedure=procedure), "vital").when == when
    said = (0.1, "vital - 92 heart rate")
    assert there(look(said, now=0.2, procedure=procedure), "vital").due_at == at(0.35)
    shipped = look(now=minutes * MINUTE)
    assert item(shipped, "vital") is None
    assert "vital signs: no interval set here (P13: 5 min to 1 h)" in shipped.remarks
    assert not any("vital" in remark for remark in look(now=1, procedure=procedure).remarks)


@pytest.mark.parametrize(
    ("hours", "due", "when"),
    [(1.99, 2, "next"), (2, 2, "due"), (2.25, 2, "due"), (2.26, 4, "next"), (4, 4, "due"), (5, 6, "next")],
)
def test_what_the_log_cannot_know_is_never_overdue(hours: float, due: float, when: str) -> None:
    """As in a case that was begun when the skin had no entry of its own."""
    shipped = cases.procedure(THREE)
    assert shipped.watch is not None
    checks = [one.model_copy(update={"done": ()}) if one.id == "skin" else one for one in shipped.watch.check]
    older = shipped.model_copy(update={"watch": shipped.watch.model_copy(update={"check": tuple(checks)})})
    found = there(look(now=hours, procedure=older), "skin")
    assert (found.due_at, found.when) == (at(due), when)
    assert "not logged" in found.title


def test_with_traction_off_nobody_checks_it() -> None:
    found = look((0.5, "traction - off"), now=2)
    assert item(found, "traction") is None
    assert item(found, "mark") is None
    assert there(found, "skin").due_at == at(2)


@pytest.mark.parametrize(
    ("hours", "expected"),
    [
        # P15, P31: 12 and 24 h of the gastric balloon; P29, P31: 36 and 48 h
        (11.99, {"12h": "next"}),
        (12, {"12h": "due", "24h": "next"}),
        (12.26, {"12h": "overdue", "24h": "next"}),
        (23.99, {"12h": "overdue", "24h": "next"}),
        (24, {"24h": "due", "36h": "next"}),
        (36.26, {"36h": "overdue", "48h": "next"}),
        (48, {"48h": "due"}),
    ],
)
def test_the_hours_of_the_gastric_balloon(hours: float, expected: dict[str, str]) -> None:
    clock = "since-gastric-inflation-"
    found = {one.id.removeprefix(clock): one.when for one in look(now=hours).items if one.id.startswith(clock)}
    assert found == expected


@pytest.mark.parametrize(("hours", "when"), [(12.09, "next"), (12.1, "due"), (12.36, "overdue")])
def test_the_hours_of_the_oesophageal_balloon(hours: float, when: str) -> None:
    # P15: 12 h
    assert there(look(*UP, now=hours), "since-oesophageal-inflation-12h").when == when


def test_how_long_each_balloon_has_been_up() -> None:
    gastric, oesophageal = look(*UP, now=3).balloons
    assert (gastric.site, gastric.since, gastric.volume, gastric.pressure) == ("gastric", at(0), 250, None)
    assert (oesophageal.since, oesophageal.volume, oesophageal.pressure) == (at(0.1), 60, 40)
    down = look(*UP, (2, "balloon oesophageal down"), (2.5, "pressure oesophageal 30"), now=3).balloons[1]
    assert down.since == at(2.5)
    assert look(*UP, (2, "balloon oesophageal down"), now=3).balloons[1].since is None


def test_the_most_urgent_comes_first() -> None:
    found = look(*UP, now=12.2)
    assert [one.when for one in found.items] == sorted(
        (one.when for one in found.items), key=["overdue", "due", "next"].index
    )
    assert found.items[0].when == "overdue"


def test_every_item_has_a_source() -> None:
    for one in look(
        *UP, (1, "bleeding - stopped"), now=2, procedure=local(deflation={"every_h": 6, "for_min": 5})
    ).items:
        assert one.source.startswith("[")


# ---- oesophageal balloon --------------------------------------------------------------------------------------------


def test_a_balloon_that_was_never_read_is_due_at_once() -> None:
    found = look((0.1, "volume_in oesophageal 60"), now=0.1)
    assert there(found, "oesophageal-unread").when == "due"
    assert item(look(*UP, now=0.3), "oesophageal-unread") is None


def test_the_next_step_down_is_an_item_and_later_ones_are_not() -> None:
    found = look(*UP, (1, "bleeding - stopped"), now=2)
    assert there(found, "step-down").due_at == at(4)  # P22: 3 h
    assert "35 mmHg" in there(found, "step-down").title
    assert item(look(*UP, now=2), "step-down") is None


@pytest.mark.parametrize(("hours", "when"), [(3.99, "next"), (4, "due"), (4.25, "due"), (4.26, "overdue")])
def test_a_step_down_is_due_and_overdue(hours: float, when: str) -> None:
    assert there(look(*UP, (1, "bleeding - stopped"), now=hours), "step-down").when == when


def test_without_a_choice_of_the_site_no_deflation_is_due() -> None:
    for name in (THREE, FOUR):
        assert cases.procedure(name).watch is not None
        found = look(*UP, now=20, name=name)
        assert item(found, "deflation") is None
        assert any("has set no interval (P15: 1-2 h, P30: 8-12 h)" in remark for remark in found.remarks)


@pytest.mark.parametrize(("hours", "when"), [(6.09, "next"), (6.1, "due"), (6.36, "overdue")])
def test_deflation_as_the_site_chose_it(hours: float, when: str) -> None:
    procedure = local(deflation={"every_h": 6, "for_min": 5})
    found = look(*UP, now=hours, procedure=procedure)
    assert there(found, "deflation").when == when
    assert there(found, "deflation").source == (
        "[local] local: local protocol approved by tamponade group on 2026-03-01"
    )
    assert not any("deflation" in remark for remark in found.remarks)


@pytest.mark.parametrize(("minutes", "when"), [(4, "next"), (5, "due"), (21, "overdue")])
def test_a_balloon_that_is_down_for_a_while_asks_what_next(minutes: float, when: str) -> None:
    procedure = local(deflation={"every_h": 6, "for_min": 5})
    said = (*UP, (6, "balloon oesophageal down"))
    assert there(look(*said, now=6 + minutes * MINUTE, procedure=procedure), "deflation-over").when == when
    removal = (*UP, (5.9, "traction - off"), (6, "balloon oesophageal down"))
    assert item(look(*removal, now=7, procedure=procedure), "deflation-over") is None


DOWN: tuple[Said, ...] = (*UP, (5, "traction - off"), (5, "balloon oesophageal down"))


@pytest.mark.parametrize(("hours", "when"), [(6.99, "next"), (7, "due"), (7.25, "due"), (7.26, "overdue")])
def test_how_long_to_look_for_bleeding_is_due_as_the_site_chose(hours: float, when: str) -> None:
    procedure = local(observe_h=2)
    assert there(look(*DOWN, now=hours, procedure=procedure), "oesophageal-observed").when == when
    both = look(*DOWN, (6, "balloon gastric down"), now=hours, procedure=procedure)
    assert item(both, "oesophageal-observed") is None
    assert there(both, "gastric-observed").due_at == at(8)
    assert (
        item(look(*UP, (5, "balloon oesophageal down"), now=hours, procedure=procedure), "oesophageal-observed") is None
    )
    assert (
        item(look(*DOWN, (6, "volume_in oesophageal 40"), now=7, procedure=procedure), "oesophageal-observed") is None
    )


def test_without_a_choice_of_the_site_only_the_time_is_shown() -> None:
    found = look(*DOWN, now=5.5)
    assert item(found, "oesophageal-observed") is None
    assert any(one.startswith("oesophageal balloon down for 30 min: your site has set no") for one in found.remarks)
    assert not any("down for" in one for one in look(*UP, now=5.5).remarks)


def test_the_gastric_balloon_stays_up_under_the_oesophageal_one() -> None:
    # P30
    told = "the gastric balloon stays up while the oesophageal one is"
    assert told in look(*UP, now=1).remarks
    assert told not in look(now=1).remarks


def test_a_leak_is_reported_with_the_time_that_it_leaves() -> None:
    found = look((0.1, "volume_in oesophageal 60"), *pressures(40, 39, 38, 37, 36), now=5.5)
    assert there(found, "oesophageal-leaving").due_at == at(16)
    trend = next(one for one in found.trends if one.site == "oesophageal")
    assert trend.leaving is not None


def test_a_step_down_is_not_called_a_leak_without_a_word() -> None:
    said = (*UP, (1, "bleeding - stopped"), *pressures(40, 37, 35, 32, 30, first_h=2))
    assert any("looks like a leak" in remark for remark in look(*said, now=7).remarks)
    said = (*UP, *pressures(40, 37, 35, 32, 30, first_h=2))
    assert not any("looks like a leak" in remark for remark in look(*said, now=7).remarks)


# ---- when there is nothing, or no plan ------------------------------------------------------------------------------


def test_a_tube_that_is_out_is_not_watched() -> None:
    assert look(now=1).placed
    found = look((1, "traction - off"), (1, "balloon both down"), (1, "tube - out"), now=2)
    assert (found.placed, found.items) == (False, ())
    left_up = look((1, "tube - out"), now=2)
    assert not left_up.placed


def test_the_log_is_read_as_it_was_at_that_time() -> None:
    said = (*UP, (5, "traction - 1 weight"))
    assert there(look(*said, now=2), "traction").due_at == at(1)
    assert there(look(*said, now=5), "traction").due_at == at(6)


def test_a_case_from_before_there_was_a_plan_has_its_clocks() -> None:
    older = cases.procedure(THREE).model_copy(update={"watch": None})
    found = look(*UP, now=2, procedure=older)
    assert {one.id for one in found.items} >= {"since-oesophageal-pressure-check-1h", "since-insertion-24h"}
    assert any("no plan" in remark for remark in found.remarks)
    assert found.step_down is None


def test_an_empty_case_has_nothing_to_watch() -> None:
    assert not watch(Course(cases.procedure(THREE)), at(1)).placed


def test_nothing_is_due_once_the_patient_has_died() -> None:
    case = cases.case_of(*cases.PLACED, (7200.0, "patient died"))
    assert watch(case.course, cases.BEGAN + timedelta(hours=1.9)).items
    later = cases.BEGAN + timedelta(hours=30)
    found = watch(case.course, later, case.record)
    assert (found.items, found.placed) == ((), True)
    assert found.remarks == ("outcome: died, said at 16:00: nothing is due",)
    assert not case.course.due(later), "the clocks have stopped"


@pytest.mark.parametrize(
    "said", ["gastric pressure two two", "traction one kilo weight", "mark at five two at the lips"]
)
def test_a_tube_that_was_in_before_the_log_began_is_watched(said: str) -> None:
    case = cases.case_of((60, said))
    found = watch(case.course, cases.BEGAN + timedelta(hours=3), case.record)
    assert found.placed
    assert found.remarks[0].startswith("no tube is in according to the log")
    out = cases.case_of((60, said), (70, "tube in"), (80, "tube out"))
    assert not watch(out.course, cases.BEGAN + timedelta(hours=3), out.record).placed
