"""What comes next by the protocol follows from the lines that stand, whatever order they came in."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from log.course import Course, course_of
from log.crosscheck import problems
from log.events import EntryLogged, Origin
from log.load import in_force
from log.override import Override
from log.procedure import Procedure
from log.record import Record, fold
from tests.log.exports.cases import BEGAN, definition
from voice.matcher import one_entry
from voice.phrases import compile_phrases

NAMES = ("three-lumen", "four-lumen")


def course(*words: str, name: str = "three-lumen", procedure: Procedure | None = None) -> Course:
    """These words, said one a minute."""
    procedure, phrases = procedure or definition(name)[0].procedure, definition(name)[1]
    facts = []
    for number, text in enumerate(words, start=1):
        at = BEGAN + timedelta(minutes=number)
        entry = one_entry(phrases, text)
        facts.append(EntryLogged(logged_at=at, number=number, entry=entry, said_at=at, origin=Origin()))
    return course_of(procedure, fold(facts, Record()))


def coming(*words: str, name: str = "three-lumen", procedure: Procedure | None = None) -> str | None:
    """The step that comes next after them."""
    found = course(*words, name=name, procedure=procedure).next.milestone
    return found.id if found else None


def passed_over(*words: str) -> set[str]:
    """What is missing though something after it is there."""
    return {milestone.id for milestone in course(*words).next.passed_over}


@pytest.mark.parametrize("name", NAMES)
def test_saying_what_comes_next_leads_through_the_whole_protocol(name: str) -> None:
    said: list[str] = []
    reached: list[str] = []
    while (found := course(*said, name=name).next.milestone) is not None:
        reached.append(found.id)
        said.append(found.say)
        assert len(said) < 30
        if found.id == "oesophageal-balloon":
            assert course(*said, name=name).next.milestone is None  # a removal begins by itself
            said.append("traction released")
    expected = ["airway", "gastric-leak-test", "oesophageal-leak-test", "tube-in", "depth", "position-check"]
    expected += ["first-gastric-air", "x-ray", "gastric-full", "traction", "mark"]
    expected += ["oesophageal-aspirate"] if name == "four-lumen" else []
    expected += ["bleeding", "oesophageal-balloon", "oesophageal-down", "gastric-down", "tube-out"]
    assert reached == expected
    assert not course(*said, name=name).next.passed_over


@pytest.mark.parametrize("name", NAMES)
def test_every_step_fits_into_one_line_with_what_to_say(name: str) -> None:
    for step in definition(name)[0].procedure.milestone:
        assert len(f'NEXT: {step.title}  say: "{step.say}"') <= 79, step.id


def test_when_it_was_reached_is_known() -> None:
    reached = course("airway secured", "airway secured").end.reached
    assert reached == {"airway": BEGAN + timedelta(minutes=1)}


def test_what_was_passed_over_holds_nothing_up_and_is_told() -> None:
    words = ("gastric balloon leak test passed", "tube in")
    assert coming(*words) == "depth"
    assert passed_over(*words) == {"airway", "oesophageal-leak-test"}
    assert passed_over(*words, "airway secured") == {"oesophageal-leak-test"}


FILLED = ("tube in", "tube at five five at the lips", "air heard over the stomach", "gastric in five zero")


def test_the_gastric_balloon_is_full_by_its_volume_alone() -> None:
    assert coming(*FILLED, "x-ray confirms position") == "gastric-full"
    assert coming(*FILLED, "x-ray confirms position", "gastric in one zero zero") == "gastric-full"
    assert coming(*FILLED, "x-ray confirms position", "gastric in two zero zero") == "traction"
    assert coming(*FILLED, "x-ray confirms position", "gastric balloon up") == "gastric-full"


def test_a_wrong_position_leads_back_to_the_depth() -> None:
    assert coming(*FILLED, "x-ray shows wrong position") == "depth"
    assert coming(*FILLED, "x-ray shows wrong position", "gastric balloon down") == "depth"
    assert coming(*FILLED, "x-ray shows wrong position", *FILLED[1:]) == "x-ray"


UNDER_TRACTION = (*FILLED, "x-ray confirms position", "gastric volume two five zero", "traction one kilo weight on")


def test_mark_and_bleeding_count_only_under_traction() -> None:
    assert coming("still bleeding", *UNDER_TRACTION) == "mark"
    assert coming("still bleeding", *UNDER_TRACTION, "mark at five two at the lips") == "bleeding"


def test_the_oesophageal_balloon_is_only_for_bleeding_that_goes_on() -> None:
    marked = (*UNDER_TRACTION, "mark at five two at the lips")
    assert coming(*marked, "bleeding stopped") is None
    assert coming(*marked, "still bleeding") == "oesophageal-balloon"


def test_a_removal_lets_the_oesophageal_balloon_down_first_if_it_is_up() -> None:
    assert coming(*UNDER_TRACTION, "traction released") == "gastric-down"
    blown = (*UNDER_TRACTION, "oesophageal pressure three zero", "traction released")
    assert coming(*blown) == "oesophageal-down"
    down = (*blown, "oesophageal balloon deflated")
    assert coming(*down) == "gastric-down"
    assert coming(*down, "oesophageal pressure three zero") == "oesophageal-down"
    assert coming(*blown, "traction one kilo weight on") is None


def test_a_balloon_let_down_for_a_while_is_no_removal() -> None:
    resting = (*UNDER_TRACTION, "oesophageal pressure three zero", "oesophageal balloon deflated")
    assert coming(*resting) is None
    assert coming(*resting, "oesophageal pressure three zero", "traction released") == "oesophageal-down"


def test_a_definition_without_steps_has_nothing_next() -> None:
    procedure = definition()[0].procedure.model_copy(update={"milestone": ()})
    assert coming("tube in", procedure=procedure) is None


# ---- what is wrong with a definition ------------------------------------------------------------------------------


def broken(**changes: object) -> dict[str, str]:
    """Problems of the definition with its first step (the airway) changed."""
    procedure = definition()[0].procedure
    first, *others = procedure.milestone
    changed = type(first).model_validate({**first.model_dump(), **changes})
    return dict(problems(procedure.model_copy(update={"milestone": (changed, *others)})))


@pytest.mark.parametrize(
    ("changes", "path", "problem"),
    [
        ({"after": ["nowhere"]}, "milestone[0].after", 'no milestone is called "nowhere"'),
        ({"since": "nowhere"}, "milestone[0].since", 'no milestone is called "nowhere"'),
        ({"keeps": "nothing"}, "milestone[0].keeps", 'no limit is called "nothing"'),
        ({"source": ["P99"]}, "milestone[0].source", 'no source is called "P99"'),
        ({"done": [{"kind": "nap"}]}, "milestone[0].done[0].kind", 'no kind of entry is called "nap"'),
        ({"undone": [{"kind": "nap"}]}, "milestone[0].undone[0].kind", 'no kind of entry is called "nap"'),
        ({"id": "depth"}, "milestone[4].id", '"depth" stands twice'),
    ],
)
def test_names_that_lead_nowhere_are_told_with_their_place(changes: dict[str, object], path: str, problem: str) -> None:
    assert problem in broken(**changes)[path]


def test_a_circle_is_told_at_each_of_its_steps() -> None:
    found = broken(after=["tube-in"])
    assert set(found) == {"milestone[0].after", "milestone[3].after"}
    assert "before itself: take one out of the circle" in found["milestone[0].after"]


# ---- what a hospital changes --------------------------------------------------------------------------------------


def local(**changes: object) -> Procedure:
    """The definition with these changes of a hospital."""
    approved = {"procedure": "three-lumen", "approved_by": "unit", "approved_on": date(2025, 2, 1)}
    override = Override.model_validate({**approved, **changes})
    return in_force(definition()[0].procedure, override).procedure


def test_a_hospital_replaces_adds_and_leaves_out_steps() -> None:
    own = {
        "id": "secured",
        "title": "tube secured",
        "after": ["tube-in"],
        "done": [{"kind": "tube", "value": "secured"}],
        "say": "tube secured",
        "tag": "local",
    }
    depth = {
        "id": "depth",
        "title": "depth",
        "after": ["secured"],
        "done": [{"kind": "depth"}],
        "say": "depth five five",
        "tag": "local",
    }
    leaks = ["gastric-leak-test", "oesophageal-leak-test"]
    procedure = local(milestone=[own, depth], leave_out=leaks)
    assert not list(problems(procedure))
    assert procedure.milestone[-1].source == ("local",)
    assert coming("airway secured", procedure=procedure) == "tube-in"
    assert coming("airway secured", "tube in", procedure=procedure) == "secured"
    assert coming("airway secured", "tube in", "tube secured", procedure=procedure) == "depth"


def test_what_came_after_a_step_that_is_left_out_comes_after_what_was_before_it() -> None:
    procedure = local(leave_out=["position-check", "traction"])
    steps = {step.id: step for step in procedure.milestone}
    assert steps["first-gastric-air"].after == ("depth",)
    assert (steps["mark"].after, steps["mark"].since) == (("gastric-full",), None)


def test_every_step_can_be_said_and_counts() -> None:
    for name in NAMES:
        procedure = definition(name)[0].procedure
        phrases = compile_phrases(procedure)
        for step in procedure.milestone:
            entry = one_entry(phrases, step.say)
            kind = "volume_in" if entry.kind == "volume_total" else entry.kind
            assert any(kind == pattern.kind and pattern.value in (None, entry.value) for pattern in step.done)
