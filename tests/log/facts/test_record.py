"""Facts and what they add up to: every fact survives being written down, and every beginning of a case is a case."""

from __future__ import annotations

import inspect
import json
from datetime import UTC, datetime, timedelta, timezone
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import AwareDatetime, ValidationError

from log.basics.entry import Entry
from log.basics.patterns import LEVELS, Level
from log.facts import events
from log.facts.events import (
    CaptureGap,
    CaseClosed,
    CaseOpened,
    ChangeUndone,
    Differs,
    Ended,
    EntryAmended,
    EntryAsked,
    EntryLogged,
    EntryRestored,
    EntryStruck,
    Fact,
    FactBase,
    FindingRaised,
    FindingSettled,
    NotUnderstoodHeard,
    QuestionAnswered,
    from_plain,
    moment,
    to_plain,
)
from log.facts.origin import KeepSound, Origin, Sound, WayOfSaying
from log.facts.record import Record, evolve, fold


def to_json(fact: Fact) -> str:
    return json.dumps(to_plain(fact))


def from_json(text: str) -> Fact:
    return from_plain(json.loads(text))


NOW = datetime(2025, 3, 4, 2, 0, tzinfo=UTC)
GASTRIC_50 = Entry(kind="volume_in", site="gastric", value=50, unit="mL")
GASTRIC_15 = Entry(kind="volume_in", site="gastric", value=15, unit="mL")

FACT_CLASSES = [
    found
    for _, found in inspect.getmembers(events, inspect.isclass)
    if issubclass(found, FactBase) and found is not FactBase
]
"""Found by themselves: a new class of fact is tested without anybody thinking of it."""

MOMENTS = st.datetimes(
    datetime(2000, 1, 1),
    datetime(2099, 1, 1),
    timezones=st.sampled_from([UTC, timezone(timedelta(hours=10, minutes=30)), timezone(timedelta(hours=-5))]),
)
NUMBERS = st.integers(0, 10**6) | st.floats(0, 10**6)
WORDS = st.text(max_size=8)
HASHES = st.text("0123456789abcdef", min_size=64, max_size=64)
ENTRIES = st.builds(
    Entry,
    kind=st.sampled_from(["volume_in", "pressure", "xray"]),
    site=st.sampled_from([None, "gastric", "both"]),
    value=st.none() | NUMBERS | WORDS,
    unit=st.none() | st.just("mL"),
    detail=st.none() | WORDS,
)
ORIGINS = st.builds(
    Origin,
    by=st.sampled_from(["voice", "typed"]),
    heard=WORDS,
    author=WORDS,
    engine=WORDS,
    confidence=st.floats(0, 1),
    sound=st.none() | st.builds(Sound, sha256=HASHES, seconds=st.floats(0, 60)),
)
FIELDS: dict[object, st.SearchStrategy[Any]] = {
    str: WORDS,
    WayOfSaying: st.sampled_from(get_args(WayOfSaying)),
    str | None: st.none() | WORDS,
    int: st.integers(1, 999),
    int | None: st.none() | st.integers(1, 999),
    float: st.floats(0, 10**6),
    float | None: st.none() | st.floats(1, 240),
    bool: st.booleans(),
    AwareDatetime: MOMENTS,
    Entry: ENTRIES,
    Origin: ORIGINS,
    tuple[Entry, ...]: st.lists(ENTRIES, min_size=1, max_size=3).map(tuple),
    tuple[str, ...]: st.lists(WORDS, max_size=3).map(tuple),
    Level: st.sampled_from(LEVELS),
    KeepSound: st.sampled_from(["all", "utterances", "none"]),
    Differs: st.sampled_from(get_args(Differs)),
    Entry | None: st.none() | ENTRIES,
    Ended | None: st.none() | st.sampled_from(get_args(Ended)),
}


def facts_of(kind: type[FactBase]) -> st.SearchStrategy[Any]:
    """Random facts of one class; its fields are read from the class itself."""
    fields = {name: about.annotation for name, about in kind.model_fields.items() if name != "fact"}
    return st.builds(kind, **{name: _field(name, annotation) for name, annotation in fields.items()})


def _field(name: str, annotation: object) -> st.SearchStrategy[Any]:
    if name == "sha256":
        return HASHES if annotation is str else st.lists(HASHES, min_size=1, max_size=3).map(tuple)
    if name in ("text", "told"):
        return st.text(min_size=1, max_size=8)
    return st.none() | MOMENTS if name == "happened_at" else FIELDS[annotation]


def test_the_facts_that_can_be_read_are_all_the_classes_there_are() -> None:
    tags = {kind.model_fields["fact"].default for kind in FACT_CLASSES}
    assert len(tags) == len(FACT_CLASSES) == 31
    for kind in FACT_CLASSES:
        with pytest.raises(ValidationError) as error:
            from_json(json.dumps({"fact": kind.model_fields["fact"].default}))
        assert all(str(problem["loc"][0]) == kind.model_fields["fact"].default for problem in error.value.errors()), (
            "a fact of this class is read as one"
        )


@pytest.mark.parametrize("kind", FACT_CLASSES, ids=lambda kind: kind.__name__)
def test_every_fact_survives_being_written_down(kind: type[FactBase]) -> None:
    @given(facts_of(kind))
    def survives(fact: Fact) -> None:
        text = to_json(fact)
        assert "\n" not in text
        again = from_json(text)
        assert again == fact
        assert type(again) is kind
        assert to_json(again) == text

    survives()


@pytest.mark.parametrize("kind", FACT_CLASSES, ids=lambda kind: kind.__name__)
def test_a_fact_with_an_unknown_key_or_without_a_needed_one_is_refused(kind: type[FactBase]) -> None:
    @given(facts_of(kind))
    @settings(max_examples=3)
    def refused(fact: Fact) -> None:
        whole = json.loads(to_json(fact))
        with pytest.raises(ValidationError):
            from_json(json.dumps({**whole, "dose": 1}))
        for name, about in kind.model_fields.items():
            if about.is_required() or name == "fact":
                with pytest.raises(ValidationError):
                    from_json(json.dumps({key: value for key, value in whole.items() if key != name}))

    refused()


@pytest.mark.parametrize(
    "text",
    [
        "{}",
        "[]",
        "null",
        '{"fact": "entry_logge"}',
        '{"fact": null}',
        '{"fact": "case_closed", "reason": "over", "logged_at": "2025-03-04T02:00:00"}',  # a time of no place
        '{"fact": "capture_gap", "reason": "x", "seconds": NaN, "began_at": "2025-03-04T02:00:00Z", '
        '"logged_at": "2025-03-04T02:00:00Z"}',
        '{"fact": "case_closed", "reason": "over", "logged_at": "0001-01-01T00:00:00+14:00"}',
        '{"fact": "case_closed", "reason": 7, "logged_at": "2025-03-04T02:00:00Z"}',
    ],
)
def test_what_is_not_a_fact_is_refused_and_never_guessed(text: str) -> None:
    with pytest.raises(ValueError):
        from_json(text)


def test_a_fact_read_under_another_tag_is_refused() -> None:
    """An entry that is read as something else would lose its number silently."""
    fact = EntryLogged(logged_at=NOW, number=1, entry=GASTRIC_50, said_at=NOW, origin=Origin())
    for kind in FACT_CLASSES:
        tag = kind.model_fields["fact"].default
        if kind is not EntryLogged and kind is not QuestionAnswered:
            with pytest.raises(ValidationError):
                from_json(json.dumps({**json.loads(to_json(fact)), "fact": tag}))


def test_facts_cannot_be_edited() -> None:
    fact = CaseClosed(logged_at=NOW, reason="over")
    with pytest.raises(ValidationError):
        fact.reason = "not over"


@pytest.mark.parametrize(("value", "kept"), [(50, int), (50.0, float), (0.5, float), ("50", str), (None, type(None))])
def test_a_value_keeps_its_type(value: float | str | None, kept: type) -> None:
    fact = EntryLogged(logged_at=NOW, number=1, entry=Entry(kind="pressure", value=value), said_at=NOW, origin=Origin())
    again = from_json(to_json(fact))
    assert isinstance(again, EntryLogged)
    assert type(again.entry.value) is kept


def test_the_moment_of_a_fact_is_when_it_was_said() -> None:
    said = NOW - timedelta(minutes=1)
    assert moment(EntryStruck(logged_at=NOW, number=1, said_at=said, reason="", origin=Origin())) == said
    assert moment(CaseClosed(logged_at=NOW, reason="")) == NOW


@st.composite
def cases(draw: st.DrawFn) -> tuple[Fact, ...]:
    """Facts in an order that can happen: what is answered was asked, what is struck stands, ..."""
    facts: list[Fact] = [draw(facts_of(CaseOpened))]
    status: list[str] = []
    before: list[list[str]] = []
    for _ in range(draw(st.integers(0, 25))):
        asked = [n for n, s in enumerate(status, 1) if s == "asked"]
        stands = [n for n, s in enumerate(status, 1) if s == "stands"]
        can: list[type[FactBase]] = [
            EntryLogged,
            EntryAsked,
            NotUnderstoodHeard,
            FindingRaised,
            FindingSettled,
            CaptureGap,
        ]
        changed = [n for n, line in enumerate(fold(facts).lines, 1) if line.holding]
        can += [EntryRestored] * ("struck" in status) + [ChangeUndone] * bool(changed)
        can += [QuestionAnswered] * bool(asked) + [EntryAmended] * bool(stands) + [EntryStruck] * bool(asked or stands)
        kind = draw(st.sampled_from(can))
        fact = draw(facts_of(kind))
        if isinstance(fact, EntryLogged | EntryAsked):
            before.append([])
            status.append("stands" if isinstance(fact, EntryLogged) else "asked")
            fact = fact.model_copy(update={"number": len(status)})
        elif isinstance(fact, EntryRestored | ChangeUndone):
            struck = [n for n, s in enumerate(status, 1) if s == "struck"]
            number = draw(st.sampled_from(struck if isinstance(fact, EntryRestored) else changed))
            status[number - 1] = before[number - 1].pop()
            fact = fact.model_copy(update={"number": number})
        elif isinstance(fact, QuestionAnswered | EntryAmended | EntryStruck):
            of = {QuestionAnswered: asked, EntryAmended: stands, EntryStruck: asked + stands}[type(fact)]
            number = draw(st.sampled_from(of))
            before[number - 1].append(status[number - 1])
            status[number - 1] = "struck" if isinstance(fact, EntryStruck) else "stands"
            fact = fact.model_copy(update={"number": number})
        facts.append(fact)
        assert [line.status for line in fold(facts).lines] == status
    return tuple(facts) + ((draw(facts_of(CaseClosed)),) if draw(st.booleans()) else ())


@given(cases())
def test_every_beginning_of_a_case_is_a_case(facts: tuple[Fact, ...]) -> None:
    """Folding in one go, in two, or after writing and reading gives the same record; nothing is lost on the way."""
    whole = fold(facts)
    for cut in range(len(facts) + 1):
        record = fold(facts[:cut])
        assert fold(facts[cut:], record) == whole
        assert record.next_number == len(record.lines) + 1
        assert {line.status for line in record.lines} <= {"stands", "asked", "struck"}
        assert [line.said_at for line in record.standing] == sorted(line.said_at for line in record.standing)
    assert fold(from_json(to_json(fact)) for fact in facts) == whole


@given(cases())
def test_no_correction_hides_what_was_said_first(facts: tuple[Fact, ...]) -> None:
    record = fold(facts)
    first = [fact for fact in facts if isinstance(fact, EntryLogged | EntryAsked)]
    assert [line.original for line in record.lines] == [
        fact.entry if isinstance(fact, EntryLogged) else fact.candidates[0] for fact in first
    ]
    about = EntryStruck | EntryRestored | EntryAmended | QuestionAnswered | ChangeUndone
    changes = [fact for fact in facts if isinstance(fact, about)]
    assert sum(len(line.changes) for line in record.lines) == len(changes)
    assert len(record.missed) == sum(isinstance(fact, NotUnderstoodHeard) for fact in facts)
    assert len(record.findings) == sum(isinstance(fact, FindingRaised) for fact in facts)


def test_the_lines_that_count_are_in_the_order_in_which_things_happened() -> None:
    """A late entry stands where it happened, not where it was said."""
    late = [
        EntryLogged(logged_at=NOW, number=n, entry=GASTRIC_50, said_at=NOW - timedelta(minutes=ago), origin=Origin())
        for n, ago in ((1, 1), (2, 5), (3, 1))
    ]
    assert [line.number for line in fold(late).standing] == [2, 1, 3]


def test_an_answered_question_stands_with_its_answer() -> None:
    asked = EntryAsked(
        logged_at=NOW,
        number=1,
        candidates=(GASTRIC_50, GASTRIC_15),
        reason="50 and 15 sound alike",
        said_at=NOW,
        origin=Origin(),
    )
    record = fold([asked])
    assert (record.line(1).status, record.line(1).entry) == ("asked", GASTRIC_50)
    assert record.open_question == record.line(1)
    record = evolve(record, QuestionAnswered(logged_at=NOW, number=1, entry=GASTRIC_15, said_at=NOW, origin=Origin()))
    assert (record.line(1).status, record.line(1).entry) == ("stands", GASTRIC_15)
    assert record.open_question is None


def test_settling_closes_the_finding_of_that_rule_and_line_and_no_other() -> None:
    def raised(rule: str, number: int | None) -> FindingRaised:
        return FindingRaised(logged_at=NOW, rule=rule, number=number, level="high", message="m", source="s")

    record = fold([raised("a", 1), raised("a", 2), raised("b", 1), raised("c", None)])
    record = evolve(record, FindingSettled(logged_at=NOW, rule="a", number=1, message="m", how="corrected"))
    assert [(found.rule, found.number) for found in record.open_findings] == [("a", 2), ("b", 1), ("c", None)]
    record = evolve(record, raised("a", 1))
    assert len(record.findings) == 5
    assert len(record.open_findings) == 4


@pytest.mark.parametrize("number", [-1, 0, 1])
def test_a_line_that_is_not_there_is_an_error(number: int) -> None:
    with pytest.raises(IndexError, match=f"the log has no line {number}"):
        Record().line(number)
