"""Taking the tube out, in order or in an emergency, and what ends a finding by itself."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import pytest

from log.basics.entry import Understood
from log.definition.load import in_force
from log.definition.override import Override
from log.definition.procedure import Procedure
from log.facts.events import FindingSettled
from log.facts.line import Line
from log.facts.origin import Origin
from log.facts.record import Record
from log.rules import Finding
from log.rules.course import check, course_of
from log.rules.definitions import of_case
from log.rules.removing import observed
from log.scribe.decide import Heard, decide
from log.scribe.decided import rechecked
from tests import cases
from tests.case_file import opened
from tests.log.rules.test_rules import BEGAN, BOTH, HELD, PREPARED, READY, THREE, UP, entry, findings, found, record

RELEASED = (*UP[THREE], "removal - begun", "traction - off")


def at_minutes(*said: tuple[float, str], procedure: Procedure) -> tuple[Finding, ...]:
    """What the rules say of a placed tube and these entries, said so many minutes later."""
    lines = [(0.0, text) for text in RELEASED]
    times = [BEGAN + timedelta(minutes=minutes) for minutes, _ in (*lines, *said)]
    texts = [text for _, text in (*lines, *said)]
    return check(procedure, _record(texts, times), times[-1])


def _record(texts: Sequence[str], times: Sequence[datetime]) -> Record:
    numbered = enumerate(zip(texts, times, strict=True), start=1)
    return Record(lines=tuple(Line(n, "stands", entry(text), when, when, Origin()) for n, (text, when) in numbered))


def wanting(hours: float | None) -> Procedure:
    """The definition of a unit that wants to look so long after each balloon."""
    approved = {"procedure": THREE, "approved_by": "the unit", "approved_on": date(2026, 3, 1)}
    override = Override.model_validate({**approved, "watch": {"observe_h": hours}})
    return in_force(cases.procedure(THREE), override).procedure


@pytest.mark.parametrize(("minutes", "told"), [(29.9, 1), (30, 0), (30.1, 0)])
def test_it_is_looked_for_bleeding_as_long_as_the_site_wants(minutes: float, told: int) -> None:
    removal = [(0.0, "balloon oesophageal down"), (minutes, "balloon gastric down"), (500.0, "tube - out")]
    found = [one for one in at_minutes(*removal, procedure=wanting(0.5)) if one.rule == "observed_too_briefly"]
    assert len(found) == told
    removal = [(0.0, "balloon oesophageal down"), (500.0, "balloon gastric down"), (500 + minutes, "tube - out")]
    found = [one for one in at_minutes(*removal, procedure=wanting(0.5)) if one.rule == "observed_too_briefly"]
    assert len(found) == told
    for one in found:
        assert one.message.startswith("gastric balloon down for 29.9 min, 0.5 h wanted here: ")
        assert one.source == "[local] local: local protocol approved by the unit on 2026-03-01"


def test_without_a_choice_of_the_site_no_time_is_too_short() -> None:
    removal = [(0.0, "balloon both down"), (0.0, "tube - out")]
    assert at_minutes(*removal, procedure=wanting(None)) == ()
    assert [one.rule for one in at_minutes(*removal, procedure=wanting(0.01))] == ["observed_too_briefly"] * 2


def test_how_long_it_was_looked_is_computed_all_the_same() -> None:
    texts = (*RELEASED, "balloon oesophageal down", "balloon gastric down", "tube - out")
    times = [BEGAN + timedelta(minutes=7) * number for number in range(len(texts))]
    course = course_of(cases.procedure(THREE), _record(texts, times))
    assert [pair for step in course.steps for pair in observed(course.procedure.tube, step)] == [
        ("oesophageal", timedelta(minutes=7)),
        ("gastric", timedelta(minutes=7)),
    ]


@BOTH
def test_bleeding_after_a_balloon_went_down_is_reported(name: str) -> None:
    # P32: about 60 % bleed again
    down = (*UP[name], "bleeding - stopped", "traction - off", "balloon oesophageal down")
    assert found(name, *down, "bleeding - continuing") == ["bleeds_again"]
    assert found(name, *down, "bleeding - stopped") == []
    assert found(name, *down, "balloon gastric down", "tube - out", "bleeding - continuing") == ["bleeds_again"]
    assert found(name, *UP[name], "bleeding - continuing") == []
    assert found(name, *down, "volume_in oesophageal 40", "bleeding - continuing") == ["bleeds_after_stop"], "up again"
    replaced = (*PREPARED, "volume_in gastric 30", "xray - not_confirmed", "balloon gastric down")
    assert found(name, *replaced, "bleeding - continuing") == [], "deflated to be placed again"
    tested = (*READY, "volume_in gastric 250", "balloon both down", "tube - in")
    assert found(name, *tested, "bleeding - continuing") == [], "deflated outside the patient"


@BOTH
@pytest.mark.parametrize("value", ["airway", "cut"])
def test_an_emergency_tells_what_to_do_until_it_is_over(name: str, value: str) -> None:
    called = (*UP[name], f"emergency - {value}")
    procedure = cases.procedure(name)
    assert procedure.emergency is not None
    (told,) = findings(name, *called)
    assert (told.rule, told.level, told.number) == ("emergency", "high", len(called))
    places = [told.message.index(step.text) for step in procedure.emergency.steps(value)]
    assert places == sorted(places)
    assert procedure.emergency.title(value) in told.message
    assert findings(name, *called, "depth lips 52") == (told,), "it stands until somebody ends it"
    assert findings(name, *called, "emergency - over") == ()
    assert findings(name, *called, "tube - out") == (), (
        "a tube that is cut comes out with its balloons up according to the log"
    )
    situation = course_of(procedure, record((*called, "tube - out"))).end.situation
    assert situation.emergency is None
    assert not any(situation.balloon(site).up for site in procedure.tube.balloons)
    assert course_of(procedure, record(called)).end.situation.emergency == entry(f"emergency - {value}")


@BOTH
def test_even_in_an_emergency_the_gastric_balloon_does_not_go_down_first(name: str) -> None:
    # P30
    called = (*UP[name], "emergency - airway")
    assert found(name, *called, "balloon gastric down") == ["gastric_down_first"]
    assert found(name, *called, "balloon both down") == []


def test_the_last_emergency_called_is_the_one_that_stands() -> None:
    told = findings(THREE, *UP[THREE], "emergency - airway", "emergency - cut")
    assert [(one.rule, one.number) for one in told] == [("emergency", len(UP[THREE]) + 2)]


@BOTH
@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (("tube - in",), True),
        (("scissors - missing", "tube - in"), True),
        (("scissors - at+the+bedside", "tube - in"), False),
        (("tube - in", "scissors - on+the+tray"), False),
        (("scissors - on+the+tray", "tube - in", "scissors - missing"), True),
        (("tube - in", "tube - out"), False),
        (("scissors - missing",), False),
    ],
)
def test_scissors_lie_ready_as_long_as_the_tube_is_in(name: str, lines: tuple[str, ...], told: bool) -> None:
    # P10, P11, P12, P13
    assert ("no_scissors" in [one.rule for one in findings(name, *lines)]) is told


# ---- cases that were begun before these rules -----------------------------------------------------------------------


def older() -> Procedure:
    """The definition as a case from before would have kept it: without what came later."""
    shipped = cases.procedure(THREE)
    later = ("head_up", "gastric_pressure_rise", "gastric_step", "oesophageal_start")
    first_rules = (
        "implausible", "site_not_said", "gastric_first", "traction_first", "x_ray_wrong", "traction_mass_not_said",
        "traction_kind_not_said", "mark_missing", "mark_not_comparable", "more_out_than_in", "gastric_down_first",
        "traction_still_on", "tube_out_while_up",
    )  # fmt: skip
    assert shipped.watch is not None
    plan = shipped.watch.model_copy(update={"chosen": (), "observe_not_set": None})
    changes = {
        "limits": {name: limit for name, limit in shipped.limits.items() if name not in later},
        "rules": {name: shipped.rules[name] for name in first_rules},
        "watch": plan,
        "position": (),
        "manometry": None,
        "companion": None,
        "emergency": None,
    }
    return shipped.model_copy(update=changes)


def test_an_old_case_is_kept_by_the_definition_it_was_begun_with() -> None:
    old = older()
    later = {"position", "manometry", "companion", "emergency"}
    text = old.model_dump_json(exclude=later)
    assert of_case([opened(definition=text)]) == old
    everything = (
        "kit - missing clamps", "head_up - 0", "leak_test gastric passed", "manometry gastric 5@50", "tube - in",
        *HELD[THREE], "pressure gastric 60", "resistance - felt", "skin - broken", "volume_in oesophageal 40",
        "pressure oesophageal 40", "emergency - airway", "traction - fixed", "depth lips 51", "traction - off",
        "balloon oesophageal down", "bleeding - continuing", "tube - out",
    )  # fmt: skip
    known = {*old.limits, *old.rules, *(order.id for order in old.order)}
    assert {one.rule for one in check(old, record(everything), BEGAN)} <= known


def test_without_pairs_of_checks_the_last_word_on_the_position_counts() -> None:
    # the pairs came with the definition; older ones have none
    rule = cases.procedure(THREE).rules["position_failed"]
    old = older()
    old = old.model_copy(update={"rules": {**old.rules, "position_failed": rule}})
    failed = ("depth - 55", "position_check - failed air heard over the lungs")
    passed = "position_check - passed air heard over the stomach"

    def told(*lines: str) -> bool:
        said = check(old, record((*lines, "volume_in gastric 30")), BEGAN)
        return "position_failed" in {one.rule for one in said}

    assert told(*failed)
    assert not told(*failed, passed)


def test_how_an_emergency_ended_is_written_down() -> None:
    procedure, so_far = cases.procedure(THREE), record((*UP[THREE], "emergency - airway"))
    now = so_far.lines[-1].said_at + timedelta(minutes=1)
    before = rechecked(course_of(procedure, so_far), so_far, (), now)
    over = Heard(Understood(items=(entry("emergency - over"),)), now, now, Origin())
    settled = [f for f in decide(before.course, before.record, over).facts if isinstance(f, FindingSettled)]
    assert [(fact.rule, fact.how) for fact in settled] == [("emergency", "ended by line 19")]
