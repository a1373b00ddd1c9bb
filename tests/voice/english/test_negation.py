"""What is asked, denied or only wished for is heard as that, and is no entry."""

from __future__ import annotations

import pytest

from log.basics.entry import NotUnderstood
from log.definition.load import shipped
from tests import cases
from tests.voice.said import NEEDS_A_VOICE, check_heard
from voice.english.negation import ANYWHERE, AT_THE_START, turned
from voice.meaning.ears import Ears
from voice.meaning.matcher import understand
from voice.templates.acceptor import Acceptor
from voice.templates.grammar import ASKED, ENTRIES, NUMBER

SAID = Acceptor(
    (
        {"log": 1, "traction": 2, "mark": 4, "before": 4},
        {"traction": 2, "mark": 4},
        {"on": 3, "not": 3},
        {},
        {"fifty": 5},
        {"five": 6},
        {},
    ),
    frozenset({3, 5, 6}),
)


def test_such_words_may_stand_before_and_within_a_statement_but_not_within_a_number() -> None:
    made = turned(SAID, opening=frozenset({"log"}))
    assert made.loops[0] == AT_THE_START - {"before"}
    assert made.loops[1] == AT_THE_START
    assert made.loops[2] == ANYWHERE - {"not"}  # there the definition says it itself
    assert made.loops[4] == ANYWHERE
    assert made.loops[5] == made.loops[6] == frozenset()
    for words in ("is traction on", "log if traction on", "traction should not", "mark should not fifty five"):
        assert made.accepts(words.split()) and not SAID.accepts(words.split())
    assert (
        made.accepts(["traction", "on"])
        and made.accepts(["before", "fifty"])
        and not made.accepts(["mark", "fifty", "not", "five"])
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
def test_nothing_is_read_of_a_statement_with_such_a_word_that_the_definition_does_not_have(name: str) -> None:
    phrases = cases.phrases(name)
    grammars = cases.grammars(name)
    for text in (
        "consent not documented",
        "is airway secured",
        "if traction on",
        "gastric balloon never inflated",
        "log has removal started",
        "until gastric port clamped",
        "oesophageal pressure should thirty",
    ):
        assert grammars[ENTRIES].entry.accepts(text.split()) and grammars[ASKED].entry.accepts(text.split())
        assert isinstance(understand(phrases, text), NotUnderstood), text
    assert not grammars[NUMBER].entry.loops


@NEEDS_A_VOICE
def test_what_is_denied_asked_or_wished_for_is_not_logged_and_what_is_said_is(both: Ears) -> None:
    """Of all these the statement alone had been logged, or asked."""
    check_heard(
        both,
        nothing=(
            "consent is not documented",
            "is the gastric port clamped",
            "the oesophageal balloon should be deflated",
            "the manometer is not zeroed",
            "is the bleeding controlled",
        ),
        one=("consent documented", "gastric port clamped", "airway is secured", "bleeding controlled"),
    )
