"""A case is worked out once for every export, or refused in one line."""

from __future__ import annotations

import pytest

from log.basics.errors import InputError
from log.facts.events import Fact, FindingRaised, NoteWritten
from tests.cases import BEGAN, facts_of, whole_of

FINDING = FindingRaised(logged_at=BEGAN, rule="x", number=2, level="high", message="m", source="P1")
NOTE = NoteWritten(logged_at=BEGAN, said_at=BEGAN, text="seen", number=2, author="scribe")


@pytest.mark.parametrize("about", [FINDING, NOTE], ids=lambda fact: fact.fact)
def test_a_fact_about_a_line_that_is_not_there_is_no_case(about: Fact) -> None:
    facts = facts_of([(0, "tube in")])
    assert whole_of([*facts, about.model_copy(update={"number": 1})]).record.lines
    with pytest.raises(InputError, match="the log has no line 2 - check it with: tamponade verify"):
        whole_of([*facts, about])
