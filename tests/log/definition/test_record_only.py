"""A tube whose limits nobody has set may be kept as a record, and every page and screen says what it is."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from log.basics.entry import Understood
from log.basics.errors import InputError
from log.definition.record_only import CAUTION, MARK, mark_of
from log.exports import FORMATS
from log.exports.handover_json import plain as handover_json
from log.exports.show_json import plain as show_json
from log.facts.origin import Origin
from log.facts.record import fold
from log.rules.course import course_of
from log.rules.definitions import load
from log.scribe.decide import Heard, decide
from log.summaries.handover import handover
from log.summaries.whole import Whole
from tests.cases import BEGAN, entry, gastric, opened, whole_of
from tests.log.definition.test_site_sets import CHILD, SET, local
from tests.log.exports.written import read_back
from tui.views.one_screen import one_screen

FAR_BEYOND = (
    entry("tube", "in"),
    gastric(700),
    entry("xray", "confirmed"),
    entry("traction", 5, "kg", detail="weight"),
    entry("depth", 34, "cm", "lips"),
    entry("pressure", 90, "mmHg", "oesophageal"),
    entry("depth", 20, "cm", "lips"),
)
"""What no tube holds."""


@pytest.fixture(scope="module")
def case() -> Whole:
    in_force = load(CHILD, only_record=True)
    facts = [opened(in_force)]
    record = fold(facts)
    course = course_of(in_force.procedure, record)
    for one in FAR_BEYOND:
        new = decide(course, record, Heard(Understood(items=(one,)), BEGAN, BEGAN, Origin(by="typed")))
        facts, record, course = [*facts, *new.facts], new.record, new.course  # type: ignore[list-item]
    return whole_of(facts)


def test_no_number_is_compared_and_the_order_of_steps_is(case: Whole) -> None:
    raised = {found.raised.rule for found in case.record.findings}
    assert not raised & set(case.procedure.limits) - {"first_gastric_volume"}
    assert {"no_scissors"} <= raised


@pytest.mark.parametrize("name", [name for name, one in FORMATS.items() if not one.suffix.endswith(".pdf")])
def test_every_format_says_that_there_are_no_limits(case: Whole, name: str) -> None:
    written = FORMATS[name].write(case)
    assert isinstance(written, str) and "RECORD ONLY" in written


@pytest.mark.parametrize("name", ["pdf", "handover", "debrief"])
def test_every_page_says_it(case: Whole, name: str) -> None:
    written = FORMATS[name].write(case)
    assert isinstance(written, bytes) and "RECORD ONLY" in read_back(PdfReader(BytesIO(written)))[0].text


def test_programs_and_the_screen_read_it(case: Whole) -> None:
    for plain in (show_json(case), handover_json(case, handover(case.course, case.record, case.until))):
        assert plain["cautions"][0] == CAUTION  # type: ignore[index]
    assert one_screen(case, "Hand-over", [], 80, 10)[0] == MARK == mark_of(case.procedure)


def test_it_is_for_tubes_alone_whose_limits_nobody_has_set(tmp_path: Path) -> None:
    for name, path in (("three-lumen", None), (CHILD, local(tmp_path, SET))):
        with pytest.raises(InputError, match="has limits"):
            load(name, path, only_record=True)
    some = local(tmp_path, {"oesophageal_ceiling": "{ max = 30 }"})
    assert load(CHILD, some, only_record=True).procedure.limits["oesophageal_ceiling"].max is None
