"""What comes next by the protocol follows from the lines that stand, whatever order they came in."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from log.definition.check import problems
from log.definition.load import in_force
from log.definition.override import Override
from log.definition.procedure import Procedure
from log.facts.events import EntryLogged
from log.facts.origin import Origin
from log.facts.record import Record, fold
from log.rules import READS
from log.rules.course import Course, course_of
from tests.cases import BEGAN, definition
from voice.meaning.matcher import one_entry
from voice.phrases.phrases import compile_phrases

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


BEFORE = (
    "time out done", "roles assigned", "emergency no consent", "kit complete", "scissors on the tray",
    "airway secured capnography confirmed", "head up four five", "gastric leak test passed at two five zero",
    "oesophageal leak test passed at six zero", "gastric test one zero zero pressure one two", "both balloons deflated",
    "companion tube marked",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_saying_what_comes_next_leads_through_the_whole_protocol(name: str) -> None:
    said: list[str] = []
    reached: list[str] = []
    while (found := course(*said, name=name).next.milestone) is not None:
        reached.append(found.id)
        said.append(found.say)
        assert len(said) < 60
        if found.id == "second-x-ray":
            assert course(*said, name=name).next.milestone is None  # a removal begins by itself
            said.append("begin removal")
    three = name == "three-lumen"
    expected = ["time-out", "roles", "consent", "kit", "scissors", "airway", "head-up", "gastric-leak-test"]
    expected += ["oesophageal-leak-test", "manometry", "balloons-flat", *(["companion-marked"] if three else [])]
    expected += ["tube-in", "depth", "position-check", "first-gastric-air", "x-ray-called", "x-ray", "gastric-full"]
    expected += ["gastric-clamp", "traction", "mark", "stomach"]
    expected += ["companion-gastric" if three else "oesophageal-aspirate", "bleeding", "decision"]
    expected += [*(["companion-back"] if three else []), "oesophageal-balloon", "second-x-ray", "endoscopist"]
    expected += ["release-traction", "oesophageal-down", "oesophageal-observed", "gastric-down", "gastric-observed"]
    assert reached == [*expected, "tube-out"]
    final = course(*said, name=name)
    assert not final.next.passed_over
    assert not [finding for stage in final.stages for finding in stage.findings], "and nothing is found on the way"


@pytest.mark.parametrize("name", NAMES)
def test_every_step_fits_into_one_line_with_what_to_say(name: str) -> None:
    for step in definition(name)[0].procedure.milestone:
        assert len(f'NEXT: {step.title}  say: "{step.say}"') <= 79, step.id


def test_when_it_was_reached_is_known() -> None:
    reached = course("airway secured", "airway secured").end.reached
    assert reached == {"airway": BEGAN + timedelta(minutes=1)}


def test_what_was_passed_over_holds_nothing_up_and_is_reported() -> None:
    words = ("gastric balloon leak test passed", "tube in")
    assert coming(*words) == "depth"
    early = {"time-out", "roles", "consent", "kit", "scissors", "head-up", "manometry", "balloons-flat"}
    early |= {"companion-marked", "airway", "capnography", "oesophageal-leak-test"}
    assert passed_over(*words) == early
    assert passed_over(*words, "airway secured") == early - {"airway"}
    assert passed_over(*words, "airway secured capnography confirmed") == early - {"airway", "capnography"}
    assert passed_over(*BEFORE, "tube in") == set()


def test_both_balloons_are_flat_only_when_each_was_said_to_be() -> None:
    tested = BEFORE[:10]
    assert coming(*tested, "gastric balloon deflated") == "balloons-flat"
    assert coming(*tested, "gastric balloon deflated", "oesophageal balloon deflated") == "companion-marked"
    assert coming(*tested, "both balloons deflated", "gastric balloon leak test at one zero zero") == "balloons-flat"
    assert coming(*tested, "both balloons deflated", "companion gastric mark made") == "companion-marked"


def test_what_belongs_before_the_tube_does_not_count_after_it() -> None:
    late = ("both balloons deflated", "companion tube marked", "gastric test one zero zero pressure one two")
    assert passed_over("tube in", *late) >= {"balloons-flat", "companion-marked", "manometry"}
    assert not passed_over(*late, "tube in") & {"balloons-flat", "companion-marked", "manometry"}


def test_what_is_missing_is_asked_for_again() -> None:
    assert coming(*BEFORE, "manometer missing") == "kit"
    assert coming(*BEFORE, "scissors missing") == "scissors"
    assert coming(*BEFORE, "scissors missing", "scissors at the bedside") == "tube-in"


FILLED = (
    "tube in",
    "tube at five five at the lips",
    "air heard over the stomach",
    "gastric in five zero",
    "x-ray requested",
)


def test_the_gastric_balloon_is_full_by_its_volume_alone() -> None:
    assert coming(*FILLED, "x-ray confirms position") == "gastric-full"
    assert coming(*FILLED, "x-ray confirms position", "gastric in one zero zero") == "gastric-full"
    assert coming(*FILLED, "x-ray confirms position", "gastric in two zero zero") == "gastric-clamp"
    assert coming(*FILLED, "x-ray confirms position", "gastric in two zero zero", "gastric port clamped") == "traction"
    assert coming(*FILLED, "x-ray confirms position", "gastric balloon up") == "gastric-full"


def test_a_wrong_position_leads_back_to_the_depth() -> None:
    assert coming(*FILLED, "x-ray shows wrong position") == "depth"
    assert coming(*FILLED, "x-ray shows wrong position", "gastric balloon down") == "depth"
    assert coming(*FILLED, "x-ray shows wrong position", *FILLED[1:]) == "x-ray"


UNDER_TRACTION = (
    *FILLED,
    "x-ray confirms position",
    "gastric volume two five zero",
    "gastric port clamped",
    "traction one kilo weight on",
)
MARKED = (
    *UNDER_TRACTION,
    "mark at five two at the lips",
    "gastric aspirate one two zero",
    "companion to the gastric mark",
)
OVER = "x-ray confirms position"
"""The second film: what is left to do without it is what comes next."""


def test_mark_and_bleeding_count_only_under_traction() -> None:
    assert coming("still bleeding", *UNDER_TRACTION) == "mark"
    assert coming("still bleeding", *MARKED) == "bleeding"


def test_the_stomach_is_emptied_before_anybody_looks_for_bleeding() -> None:
    marked = (*UNDER_TRACTION, "mark at five two at the lips")
    assert coming(*marked) == "stomach"
    assert coming("lavage two zero zero in", *marked) == "companion-gastric", "before the tube lies or after"


def test_the_oesophageal_balloon_is_only_for_bleeding_that_goes_on_and_once_it_was_decided() -> None:
    assert coming(*MARKED, OVER, "bleeding stopped") is None
    assert coming(*MARKED, OVER, "still bleeding") == "decision"
    assert coming(*MARKED, OVER, "still bleeding", "decision endoscopy") is None
    decided = (*MARKED, "still bleeding", "decision oesophageal balloon")
    assert coming(*decided) == "companion-back"
    assert coming(*decided, "companion back to the oesophageal mark") == "oesophageal-balloon"


def test_a_second_film_shows_the_full_balloon() -> None:
    assert coming(*MARKED, "bleeding stopped") == "second-x-ray"
    assert coming(*MARKED, "x-ray taken", "bleeding stopped") == "second-x-ray"


def test_the_mark_is_read_again_when_the_weight_comes_off() -> None:
    fixed = (*MARKED, "bleeding stopped", OVER, "traction fixed")
    assert coming(*fixed) == "mark-after-fixing"
    assert coming(*fixed, "mark at five two at the lips") is None


def test_a_removal_lets_the_oesophageal_balloon_down_first_if_it_is_up() -> None:
    placed = (*UNDER_TRACTION, OVER)
    assert coming(*placed, "traction released") == "gastric-down"
    blown = (*placed, "oesophageal pressure three zero", "traction released")
    assert coming(*blown) == "oesophageal-down"
    down = (*blown, "oesophageal balloon deflated")
    assert coming(*down) == "oesophageal-observed"
    assert coming(*down, "bleeding stopped") == "gastric-down"
    assert coming(*down, "oesophageal pressure three zero") == "oesophageal-down"
    assert coming(*blown, "traction one kilo weight on") is None
    assert coming(*down, "bleeding stopped", "gastric balloon deflated") == "gastric-observed"


def test_a_removal_wants_an_endoscopist_at_hand() -> None:
    # P32
    placed = (*MARKED, "bleeding stopped", OVER)
    assert coming(*placed, "begin removal") == "endoscopist"
    assert coming(*placed, "begin removal", "endoscopy team called") == "release-traction"
    assert coming("endoscopy team called", *placed, "begin removal") == "endoscopist", "called for this removal"
    assert "endoscopist" in passed_over(*placed, "begin removal", "traction released")


def test_a_balloon_let_down_for_a_while_is_no_removal() -> None:
    resting = (*UNDER_TRACTION, OVER, "oesophageal pressure three zero", "oesophageal balloon deflated")
    assert coming(*resting) is None
    assert coming(*resting, "oesophageal pressure three zero", "traction released") == "oesophageal-down"


def test_a_definition_without_steps_has_nothing_next() -> None:
    procedure = definition()[0].procedure.model_copy(update={"milestone": ()})
    assert coming("tube in", procedure=procedure) is None


# ---- what is wrong with a definition ------------------------------------------------------------------------------


def broken(**changes: object) -> dict[str, str]:
    """Problems of the definition with its first step (the time-out) changed."""
    procedure = definition()[0].procedure
    first, *others = procedure.milestone
    changed = type(first).model_validate({**first.model_dump(), **changes})
    return dict(problems(procedure.model_copy(update={"milestone": (changed, *others)}), READS))


@pytest.mark.parametrize(
    ("changes", "path", "problem"),
    [
        ({"after": ["nowhere"]}, "milestone[0].after", 'there is no milestone named "nowhere"'),
        ({"since": "nowhere"}, "milestone[0].since", 'there is no milestone named "nowhere"'),
        ({"before": "nowhere"}, "milestone[0].before", 'there is no milestone named "nowhere"'),
        ({"keeps": "nothing"}, "milestone[0].keeps", 'there is no limit named "nothing"'),
        ({"source": ["P99"]}, "milestone[0].source", 'there is no source named "P99"'),
        ({"done": [{"kind": "nap"}]}, "milestone[0].done[0].kind", 'there is no kind of entry named "nap"'),
        ({"undone": [{"kind": "nap"}]}, "milestone[0].undone[0].kind", 'there is no kind of entry named "nap"'),
        ({"id": "depth"}, "milestone[16].id", '"depth" stands twice'),
    ],
)
def test_names_that_lead_nowhere_come_with_their_place(changes: dict[str, object], path: str, problem: str) -> None:
    assert problem in broken(**changes)[path]


def test_a_circle_is_reported_at_each_of_its_steps() -> None:
    found = broken(after=["tube-in"])
    assert set(found) == {"milestone[0].after", "milestone[15].after"}
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
    before = ["time-out", "roles", "consent", "kit", "scissors", "capnography", "head-up", "manometry", "balloons-flat"]
    before += ["gastric-leak-test", "oesophageal-leak-test", "companion-marked"]
    procedure = local(milestone=[own, depth], leave_out=before)
    assert not list(problems(procedure, READS))
    assert procedure.milestone[-1].source == ("local",)
    assert coming("airway secured", procedure=procedure) == "tube-in"
    assert coming("airway secured", "tube in", procedure=procedure) == "secured"
    assert coming("airway secured", "tube in", "tube secured", procedure=procedure) == "depth"


def test_what_came_after_a_step_that_is_left_out_comes_after_what_was_before_it() -> None:
    procedure = local(leave_out=["position-check", "traction", "tube-in"])
    steps = {step.id: step for step in procedure.milestone}
    assert steps["first-gastric-air"].after == ("depth",)
    assert steps["balloons-flat"].before is None
    assert (steps["mark"].after, steps["mark"].since) == (("gastric-clamp",), None)


def test_every_step_can_be_said_and_counts() -> None:
    for name in NAMES:
        procedure = definition(name)[0].procedure
        phrases = compile_phrases(procedure)
        for step in procedure.milestone:
            entry = one_entry(phrases, step.say)
            kind = "volume_in" if entry.kind == "volume_total" else entry.kind
            assert any(kind == pattern.kind and pattern.value in (None, entry.value) for pattern in step.done)
