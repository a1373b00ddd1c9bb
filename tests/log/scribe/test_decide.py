"""From what was said to facts: entries, questions, answers, corrections, and the findings that come and go."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import DENIED, Entry, NotUnderstood, Question, Understood
from log.definition.procedure import Procedure
from log.facts.events import (
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryStruck,
    Fact,
    FindingRaised,
    FindingSettled,
    NotUnderstoodHeard,
    QuestionAnswered,
)
from log.facts.origin import Origin
from log.facts.record import Record, fold
from log.rules.course import course_of
from log.scribe.decide import Heard, decide
from log.scribe.decided import rechecked
from log.scribe.questions import BOTH_IN_DOUBT as BOTH_ARE
from log.scribe.questions import SURELY_HEARD
from tests import cases
from tests.cases import entry

BEGAN = datetime(2025, 3, 4, 2, 0, tzinfo=UTC)

GASTRIC_50 = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
GASTRIC_15 = Entry(kind="volume_in", site="gastric", value=15, unit="mL")
PRESSURE_30 = Entry(kind="pressure", site="oesophageal", value=30, unit="mmHg")
ASPIRATE_200 = Entry(kind="aspirate", site="gastric", value=200, unit="mL")
HALF_KILO = Entry(kind="traction", value=0.5, unit="kg", detail="weight")
FIFTY_OR_FIFTEEN = Question(candidates=(GASTRIC_50, GASTRIC_15), why="sound alike", text="50 and 15 sound alike")
UNDO, CONFIRM, NO = Entry(kind="undo"), Entry(kind="confirm"), Entry(kind="undo", value=DENIED)


def number(value: float) -> Entry:
    return Entry(kind="number", value=value)


def correct(value: float, site: str | None = None, unit: str | None = None) -> Entry:
    return Entry(kind="correct", value=value, site=site, unit=unit)


@cache
def procedure() -> Procedure:
    return cases.procedure("three-lumen")


def heard(*items: Entry | Question, minute: int = 0) -> Heard:
    said_at = BEGAN + timedelta(minutes=minute)
    return Heard(Understood(items=items), said_at, said_at + timedelta(seconds=2), Origin(heard="words"))


PRESSURE_50 = entry("pressure", 50, "mmHg", "oesophageal")
FIFTEEN_OR_FIFTY_MMHG = Question(
    candidates=(PRESSURE_50.model_copy(update={"value": 15}), PRESSURE_50),
    why="sound alike",
    text="15 and 50 sound alike",
)


def said(*items: Entry | Question, record: Record | None = None) -> tuple[tuple[Fact, ...], Record]:
    """What follows from one breath, without findings, and the record after it."""
    start = record or Record()
    facts = decided(start, heard(*items, minute=start.next_number))
    return tuple(f for f in facts if not isinstance(f, FindingRaised | FindingSettled)), fold(facts, start)


def after(*breaths: Entry | Question) -> Record:
    """The record after these, each in a breath of its own."""
    record = Record()
    for item in breaths:
        record = said(item, record=record)[1]
    return record


def decided(record: Record, what: Heard) -> tuple[Fact, ...]:
    return decide(course_of(procedure(), record), record, what).facts


def missed(*items: Entry | Question, record: Record | None = None) -> str:
    """The reason for which nothing came of it."""
    (fact,), _ = said(*items, record=record)
    assert isinstance(fact, NotUnderstoodHeard)
    return fact.reason


def test_an_entry_is_logged_with_the_time_it_was_said() -> None:
    (fact,), record = said(GASTRIC_50)
    assert isinstance(fact, EntryLogged)
    assert (fact.number, fact.entry) == (1, GASTRIC_50)
    assert fact.logged_at - fact.said_at == timedelta(seconds=2)
    assert fact.origin.heard == "words"
    assert course_of(procedure(), record).end.situation.balloon("gastric").volume == 50


def test_what_was_not_understood_is_kept_with_the_phrases_that_come_nearest() -> None:
    meaning = NotUnderstood(heard="gastric bananas", nearest=("{site} in {volume}",))
    (fact,) = decided(Record(), Heard(meaning, BEGAN, BEGAN, Origin()))
    assert isinstance(fact, NotUnderstoodHeard)
    assert fact.nearest == ("{site} in {volume}",)


def test_several_entries_of_one_breath_are_numbered_in_order() -> None:
    facts, record = said(GASTRIC_50, FIFTY_OR_FIFTEEN, PRESSURE_30)
    assert [type(fact) for fact in facts] == [EntryLogged, EntryAsked, EntryLogged]
    assert [line.number for line in record.lines] == [1, 2, 3]


def test_a_question_counts_in_no_total_until_it_is_answered() -> None:
    (fact,), record = said(FIFTY_OR_FIFTEEN)
    assert isinstance(fact, EntryAsked)
    assert fact.candidates == (GASTRIC_50, GASTRIC_15)
    assert record.standing == ()
    assert record.open_question is not None


@pytest.mark.parametrize(
    ("answer", "value"),
    [
        (CONFIRM, 50),
        (number(50), 50),
        (number(15), 15),
        (correct(40), 40),
        (correct(40, "gastric", "mL"), 40),
        (Question(candidates=(number(15), number(70)), why="digits disagree", text="contradiction"), 15),
    ],
)
def test_a_question_is_answered_by_confirm_a_number_or_a_correction(answer: Entry | Question, value: int) -> None:
    (fact,), record = said(answer, record=after(FIFTY_OR_FIFTEEN))
    assert isinstance(fact, QuestionAnswered)
    assert record.line(1).entry == GASTRIC_50.model_copy(update={"value": value})
    assert record.line(1).candidates == (GASTRIC_50, GASTRIC_15)
    assert record.open_question is None


@pytest.mark.parametrize(
    "answer",
    [
        Question(candidates=(number(50), number(15)), why="sound alike", text="50 and 15 sound alike"),
        Question(candidates=(number(60), number(16)), why="sound alike", text="60 and 16 sound alike"),
        number(999),
    ],
)
def test_an_answer_in_doubt_leaves_the_question_open(answer: Entry | Question) -> None:
    asked = after(FIFTY_OR_FIFTEEN)
    assert missed(answer, record=asked) == "still open: say the digits one by one"
    assert said(answer, record=asked)[1].open_question == asked.open_question


def test_the_newest_question_of_a_breath_is_answered_first() -> None:
    pressure = Question(
        candidates=(PRESSURE_30, PRESSURE_30.model_copy(update={"value": 13})), why="sound alike", text="alike"
    )
    record = said(number(30), record=said(FIFTY_OR_FIFTEEN, pressure)[1])[1]
    assert [line.status for line in record.lines] == ["asked", "stands"]
    record = said(number(50), record=record)[1]
    assert [line.entry.value for line in record.lines] == [50, 30]
    assert record.open_question is None


@pytest.mark.parametrize(
    ("item", "reason"),
    [
        (UNDO, "there is no entry to strike"),
        (CONFIRM, "there is no open question to confirm"),
        (NO, "there is no open question to deny"),
        (number(50), "a number, but no question is open"),
        (correct(50), "there is no entry that this could correct"),
    ],
)
def test_a_command_with_nothing_to_act_on_is_reported_and_changes_nothing(item: Entry, reason: str) -> None:
    assert missed(item) == reason
    assert not said(item)[1].lines


def test_striking_takes_the_newest_line_that_is_not_struck() -> None:
    record = after(GASTRIC_50, PRESSURE_30, UNDO)
    assert [line.status for line in record.lines] == ["stands", "struck"]
    (fact,), record = said(UNDO, record=record)
    assert isinstance(fact, EntryStruck)
    assert [line.status for line in record.lines] == ["struck", "struck"]
    assert missed(UNDO, record=record) == "there is no entry to strike"


def test_a_no_strikes_the_open_question_and_nothing_else() -> None:
    (fact,), record = said(NO, record=after(GASTRIC_50, FIFTY_OR_FIFTEEN))
    assert isinstance(fact, EntryStruck)
    assert [line.status for line in record.lines] == ["stands", "struck"]


def test_an_unclear_strike_is_asked_before_anything_is_struck() -> None:
    facts, record = said(Question(candidates=(UNDO,), why="indistinct", text="unclear"), record=after(GASTRIC_50))
    assert [type(fact) for fact in facts] == [EntryAsked]
    assert record.line(1).status == "stands"
    facts, record = said(CONFIRM, record=record)
    assert [type(fact) for fact in facts] == [QuestionAnswered, EntryStruck]
    assert record.line(1).status == "struck"


def test_an_unclear_confirmation_confirms_nothing() -> None:
    indistinct = Question(candidates=(CONFIRM,), why="indistinct", text="unclear")
    assert missed(indistinct, record=after(FIFTY_OR_FIFTEEN)) == "unclear: say confirm again"


def test_an_answer_is_for_a_question_of_the_last_breath_only() -> None:
    """A question that was passed over stays open for the scribe; a number said later was not meant for it."""
    record = after(FIFTY_OR_FIFTEEN, PRESSURE_30)
    assert missed(number(50), record=record) == "a number, but no question is open"
    assert record.line(1).status == "asked"


def test_an_older_question_is_answered_by_naming_it() -> None:
    """The whole entry, soon after: air within 20 s, a reading within two minutes. Later it is the next one."""
    fifty_five = entry("depth", 55, "cm", "lips")
    for question, between, item, answered_within in (
        (FIFTY_OR_FIFTEEN, PRESSURE_30, GASTRIC_50, 20),
        (FIFTEEN_OR_FIFTY_MMHG, GASTRIC_50, PRESSURE_50, 120),
    ):
        for seconds, status in ((answered_within - 1, "stands"), (answered_within, "asked")):
            record = fold(decided(Record(), heard_at(0, question)))
            record = fold(decided(record, heard_at(1, between)), record)
            record = fold(decided(record, heard_at(seconds, item)), record)
            assert record.line(1).status == status, (item, seconds)
            assert len(record.lines) == (2 if status == "stands" else 3)
    two = fold(decided(Record(), heard_at(0, FIFTY_OR_FIFTEEN)))
    two = fold(decided(two, heard_at(1, FIFTY_OR_FIFTEEN.model_copy(update={"candidates": (GASTRIC_50,)}))), two)
    two = fold(decided(two, heard_at(2, fifty_five)), two)
    two = fold(decided(two, heard_at(3, GASTRIC_50)), two)
    assert [line.status for line in two.lines] == ["asked", "asked", "stands", "stands"], "which one was not said"


def heard_at(seconds: float, item: Entry | Question, confidence: float = 0.99) -> Heard:
    at = BEGAN + timedelta(seconds=seconds)
    return Heard(Understood(items=(item,)), at, at, Origin(heard="words", confidence=confidence))


FENTANYL = entry("drug", 50, "microgram", detail="fentanyl")
OUT_50, OUT_20 = (entry("volume_out", number_, "mL", "gastric") for number_ in (50, 20))


@pytest.mark.parametrize(
    ("item", "confidence", "asks"),
    [
        (FENTANYL, 0.92, True),
        (FENTANYL, SURELY_HEARD, False),
        (OUT_50, 0.92, True),
        (OUT_50, SURELY_HEARD, False),
        (OUT_20, 0.86, False),
        (GASTRIC_50, 0.86, False),
    ],
)
def test_a_grave_word_is_asked_unless_it_was_surely_heard(item: Entry, confidence: float, asks: bool) -> None:
    record = fold(decided(Record(), heard_at(0, GASTRIC_50)))
    (fact, *_) = decided(record, heard_at(60, item, confidence))
    assert isinstance(fact, EntryAsked if asks else EntryLogged)
    typed = Heard(Understood(items=(item,)), BEGAN, BEGAN, Origin(by="typed", confidence=0))
    assert isinstance(decided(record, typed)[0], EntryLogged), "whoever types reads what stands there"
    if asks:
        asked = fold((fact,), record)
        for answer in (CONFIRM, item):
            assert fold(decided(asked, heard_at(65, answer, 0.86)), asked).line(2).status == "stands"


def test_a_reading_in_doubt_is_carried_as_what_it_may_be() -> None:
    record = after(entry("tube", "in"), entry("depth", 55, "cm", "lips"), GASTRIC_50, PRESSURE_30)
    depths = tuple(entry("depth", cm, "cm", "lips") for cm in (50, 15))
    doubt = Question(candidates=depths, why="sound alike", text="50 and 15 sound alike")
    for question in (FIFTEEN_OR_FIFTY_MMHG, doubt):
        record = said(question, record=record)[1]
    end = course_of(procedure(), record).end.situation
    balloon = end.balloon("oesophageal")
    assert (balloon.pressure, balloon.may_read) == (30, (15, 50)), "and never the one before alone"
    assert end.depth is not None and end.depth.value == 55
    assert [one.value for one in end.depth_may_be] == [50, 15]
    record = said(entry("pressure", 35, "mmHg", "oesophageal"), entry("depth", 54, "cm", "lips"), record=record)[1]
    end = course_of(procedure(), record).end.situation
    assert end.balloon("oesophageal").may_read == () == end.depth_may_be


def test_a_struck_entry_can_still_be_read() -> None:
    line = after(GASTRIC_50, UNDO).line(1)
    assert line.original == GASTRIC_50
    assert line.changes[0].what == "struck"


def test_a_correction_changes_the_newest_number_and_keeps_what_it_was() -> None:
    (fact,), record = said(correct(40), record=after(GASTRIC_50, Entry(kind="xray", value="confirmed")))
    assert isinstance(fact, EntryAmended)
    assert record.line(1).entry.value == 40
    assert record.line(1).original == GASTRIC_50


def test_a_correction_with_a_balloon_changes_the_newest_line_of_that_balloon_and_unit() -> None:
    record = after(GASTRIC_50, PRESSURE_30, ASPIRATE_200, correct(60, "gastric", "mL"))
    assert [line.entry.value for line in record.lines] == [60, 30, 200]
    record = said(correct(35, "oesophageal", "mmHg"), record=record)[1]
    assert [line.entry.value for line in record.lines] == [60, 35, 200]


def test_a_correction_of_a_balloon_never_changes_an_aspirate() -> None:
    reason = missed(correct(60, "gastric", "mL"), record=after(ASPIRATE_200))
    assert reason == "there is no entry that this could correct"


def test_a_correction_that_cannot_be_there_changes_nothing() -> None:
    assert missed(correct(700), record=after(PRESSURE_30)) == "700 does not fit line 1"
    assert missed(correct(0.5, None, "kg"), record=after(PRESSURE_30)) == "there is no entry that this could correct"


def test_a_correction_of_half_a_kilo() -> None:
    assert after(HALF_KILO, correct(1, None, "kg")).line(1).entry == HALF_KILO.model_copy(update={"value": 1})


@pytest.mark.parametrize("value", [5, 250, 999])
def test_a_number_that_was_not_offered_is_asked_in_place_of_the_question(value: int) -> None:
    """What fits is a matter of the line that is corrected, here an aspirate, not of some other slot."""
    doubtful = Question(candidates=(correct(50), correct(15)), why="sound alike", text="50 and 15 sound alike")
    facts, record = said(number(value), record=after(ASPIRATE_200, doubtful))
    assert [type(fact) for fact in facts] == [EntryStruck, EntryAsked]
    assert record.line(1).entry.value == 200
    record = after(ASPIRATE_200, doubtful, number(value), CONFIRM)
    assert record.line(1).entry.value == value
    assert [line.status for line in record.lines] == ["stands", "struck", "stands"]


def test_a_number_is_for_the_question_that_offers_it() -> None:
    pressure = Entry(kind="pressure", site="oesophageal", value=30, unit="mmHg")
    other = Question(candidates=(pressure, pressure.model_copy(update={"value": 13})), why="sound alike", text="alike")
    facts, record = said(number(15), record=said(FIFTY_OR_FIFTEEN, other)[1])
    assert [type(fact) for fact in facts] == [QuestionAnswered]
    assert [(line.entry.kind, line.entry.value, line.status) for line in record.lines] == [
        ("volume_in", 15, "stands"),
        ("pressure", 30, "asked"),
    ]


def test_a_correction_that_was_asked_is_no_entry_to_strike_or_correct() -> None:
    doubtful = Question(candidates=(correct(50), correct(15)), why="sound alike", text="50 and 15 sound alike")
    record = after(ASPIRATE_200, doubtful, number(50), UNDO)
    assert [line.status for line in record.lines] == ["struck", "stands"]
    assert missed(correct(60), record=record) == "there is no entry that this could correct"


def test_findings_follow_the_facts_and_are_raised_once() -> None:
    facts = decided(Record(), heard(PRESSURE_30.model_copy(update={"value": 50})))
    assert [type(fact) for fact in facts] == [EntryLogged, FindingRaised]
    record = fold(facts)
    assert rechecked(course_of(procedure(), record), record, (), BEGAN).facts == ()
    assert [finding.rule for finding in record.open_findings] == ["oesophageal_ceiling"]


@pytest.mark.parametrize(("command", "how"), [(UNDO, "line 1 was struck"), (correct(45), "line 1 was corrected")])
def test_a_finding_is_settled_when_its_line_is_corrected_or_struck(command: Entry, how: str) -> None:
    record = fold(decided(Record(), heard(PRESSURE_30.model_copy(update={"value": 50}))))
    settled = decided(record, heard(command, minute=1))[-1]
    assert isinstance(settled, FindingSettled)
    assert (settled.rule, settled.number, settled.how) == ("oesophageal_ceiling", 1, how)
    assert fold([settled], record).open_findings == ()


def test_a_finding_is_reported_anew_when_its_number_changes() -> None:
    record = fold(decided(Record(), heard(PRESSURE_30.model_copy(update={"value": 50}))))
    *_, settled, raised = decided(record, heard(correct(55), minute=1))
    assert isinstance(settled, FindingSettled)
    assert isinstance(raised, FindingRaised)
    record = fold(decided(record, heard(correct(55), minute=1)), record)
    assert [finding.message.split(" is ")[0] for finding in record.open_findings] == [
        "oesophageal balloon pressure 55 mmHg"
    ]


ITEMS = st.sampled_from(
    [
        GASTRIC_50,
        PRESSURE_30,
        ASPIRATE_200,
        HALF_KILO,
        FIFTY_OR_FIFTEEN,
        UNDO,
        CONFIRM,
        number(50),
        number(999),
        correct(40),
        correct(40, "gastric", "mL"),
        correct(700),
        Entry(kind="balloon", site="both", value="down"),
        Entry(kind="tube", value="in"),
        Entry(kind="xray", value="confirmed"),
        Entry(kind="depth", value=52, unit="cm"),
        Question(candidates=(correct(50), correct(15)), why="sound alike", text="50 and 15 sound alike"),
        Question(candidates=(number(50), number(15)), why="sound alike", text="50 and 15 sound alike"),
        Question(candidates=(UNDO,), why="indistinct", text="unclear"),
        Question(candidates=(CONFIRM,), why="indistinct", text="unclear"),
    ]
)


@given(st.lists(st.lists(ITEMS, min_size=1, max_size=3), max_size=12))
def test_whatever_is_said_the_facts_fit_the_record_and_the_findings_are_those_of_the_rules(
    breaths: list[list[Entry | Question]],
) -> None:
    """Nothing said is without a trace, lines are never lost, and no finding is raised that is open already."""
    record = Record()
    for minute, items in enumerate(breaths):
        facts = decided(record, heard(*items, minute=minute))
        assert sum(not isinstance(fact, FindingRaised | FindingSettled) for fact in facts) >= len(items)
        before, record = record, fold(facts, record)
        assert len(record.lines) >= len(before.lines)
        assert [line.number for line in record.lines] == list(range(1, len(record.lines) + 1))
        assert rechecked(course_of(procedure(), record), record, (), facts[-1].logged_at).facts == ()
        opened = [(finding.rule, finding.number) for finding in record.open_findings]
        assert len(opened) == len(set(opened))


def test_an_unclear_number_answers_nothing() -> None:
    asked = after(FIFTY_OR_FIFTEEN)
    answer = Question(candidates=(number(15),), why="indistinct", text="unclear")
    assert missed(answer, record=asked) == "unclear: say the digits again"
    assert said(answer, record=asked)[1].open_question == asked.open_question


# ---- an entry with two numbers ---------------------------------------------------------------------------------------


def pressure_of(upper: float, lower: float) -> Entry:
    return Entry(kind="vital", value=upper, unit="mmHg", detail="blood pressure", second=lower, second_unit="mmHg")


LOWER_IN_DOUBT = Question(
    candidates=(pressure_of(90, 50), pressure_of(90, 15)), why="sound alike", text="50 and 15 sound alike"
)
UPPER_IN_DOUBT = Question(
    candidates=(pressure_of(130, 62), pressure_of(113, 62)), why="sound alike", text="130 and 113 sound alike"
)
BOTH = (pressure_of(130, 60), pressure_of(113, 60), pressure_of(130, 16))
BOTH_IN_DOUBT = Question(candidates=BOTH, why="sound alike", text="130 and 113 sound alike; 60 and 16 sound alike")


@pytest.mark.parametrize(
    ("question", "answer", "pair"),
    [
        (LOWER_IN_DOUBT, CONFIRM, (90, 50)),
        (LOWER_IN_DOUBT, number(15), (90, 15)),
        (LOWER_IN_DOUBT, number(50), (90, 50)),
        (LOWER_IN_DOUBT, Question(candidates=(number(15), number(50)), why="sound alike", text="alike"), None),
        (LOWER_IN_DOUBT, number(5), None),  # below what can be said for a lower pressure
        (LOWER_IN_DOUBT, number(200), None),  # fits an upper pressure only, and that was not asked
        (UPPER_IN_DOUBT, number(113), (113, 62)),
        (UPPER_IN_DOUBT, number(15), None),
        (BOTH_IN_DOUBT, CONFIRM, (130, 60)),
        (BOTH_IN_DOUBT, number(130), None),
        (BOTH_IN_DOUBT, number(16), None),
        (BOTH_IN_DOUBT, correct(113), None),
        (BOTH_IN_DOUBT, pressure_of(113, 16), (113, 16)),
        (LOWER_IN_DOUBT, correct(80), None),
        (Question(candidates=(pressure_of(90, 50),), why="indistinct", text="unclear"), number(90), None),
        (
            Question(candidates=(pressure_of(90, 50),), why="indistinct", text="unclear"),
            pressure_of(95, 50),
            (95, 50),
        ),
    ],
)
def test_bare_digits_are_of_the_number_that_is_in_doubt(
    question: Question, answer: Entry | Question, pair: tuple[int, int] | None
) -> None:
    record = after(question, answer)
    (line,) = record.lines
    assert line.status == ("asked" if pair is None else "stands")
    if pair is not None:
        assert (line.entry.value, line.entry.second) == pair


def test_where_both_numbers_are_in_doubt_it_is_said_what_to_do() -> None:
    assert missed(number(130), record=after(BOTH_IN_DOUBT)) == BOTH_ARE


def test_another_entry_of_the_same_breath_answers_no_question() -> None:
    _, record = said(BOTH_IN_DOUBT, pressure_of(95, 55))
    assert [line.status for line in record.lines] == ["asked", "stands"]


def test_a_leak_test_has_only_its_volume_to_answer_with() -> None:
    at = [Entry(kind="leak_test", site="gastric", value="started", second=n, second_unit="mL") for n in (50, 15)]
    record = after(Question(candidates=tuple(at), why="sound alike", text="50 and 15 sound alike"), number(15))
    assert (record.line(1).entry.value, record.line(1).entry.second) == ("started", 15)


def test_a_correction_gives_the_value_another_number_and_leaves_the_second() -> None:
    tested = Entry(kind="manometry", site="gastric", value=12, unit="mmHg", second=100, second_unit="mL")
    record = after(tested, correct(14))
    assert (record.line(1).entry.value, record.line(1).entry.second) == (14, 100)
    record = after(pressure_of(90, 60), correct(15))
    assert record.line(1).entry == pressure_of(90, 60), "15 is no upper pressure"


def test_what_fits_a_vital_sign_is_what_can_be_said_of_that_one() -> None:
    pulse = Entry(kind="vital", value=110, unit="/min", detail="heart rate")
    breaths = Entry(kind="vital", value=22, unit="/min", detail="respiratory rate")
    assert after(pulse, correct(140)).line(1).entry.value == 140
    assert after(breaths, correct(140)).line(1).entry.value == 22
    assert not [f for f in decided(Record(), heard(pulse)) if isinstance(f, FindingRaised)]
