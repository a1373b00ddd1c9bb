"""What an engine may hear is what the matcher reads, no more and no less."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.entry import Entry, Question, Understood
from log.definition.load import shipped
from tests import cases
from tests.cases import phrases
from voice.english.negation import AT_THE_START
from voice.english.numbers import NUMBER_WORDS, table
from voice.meaning.matcher import Listening, understand
from voice.phrases.compile import compile_grammars
from voice.phrases.sample import sample
from voice.templates.acceptor import Acceptor, acceptor
from voice.templates.expression import Node, SlotNode, Word, choice, optional, sequence, strings
from voice.templates.grammar import ASKED, BREATH, ENTRIES, NUMBER, Grammar

LISTENINGS = {
    ENTRIES: Listening(),
    BREATH: Listening(),
    ASKED: Listening(question_open=True),
    NUMBER: Listening(number_due=True),
}


@cache
def grammars(name: str, lead_word: str | None = None) -> dict[str, Grammar]:
    return compile_grammars(phrases(name), lead_word) if lead_word else dict(cases.grammars(name))


def random_path(machine: Acceptor, rng: random.Random) -> tuple[str, ...]:
    """Something that can be said, chosen at every turn."""
    said: list[str] = []
    state = 0
    while state not in machine.final or (machine.arcs[state] and rng.random() < 0.5):
        word, state = rng.choice(sorted(machine.arcs[state].items()))
        said.append(word)
    return tuple(said)


def contradicts_itself(said: tuple[str, ...]) -> bool:
    """Whether a number is followed by the digits of another: an engine is free to hear that, and it is asked."""
    for start in range(len(said)):
        for cut in range(start + 1, len(said)):
            for end in range(cut + 1, len(said) + 1):
                natural, digits = table().get(" ".join(said[start:cut])), table().get(" ".join(said[cut:end]))
                if natural is not None and digits is not None and natural.value != digits.value:
                    return True
    return False


# ---- the machine of a tree -----------------------------------------------------------------------------------------


def nodes() -> st.SearchStrategy[Node]:
    return st.recursive(
        st.sampled_from("abc").map(Word),
        lambda inner: (
            st.lists(inner, min_size=1, max_size=3).map(lambda items: sequence(*items))
            | st.lists(inner, min_size=1, max_size=3).map(lambda items: choice(*items))
            | inner.map(optional)
        ),
        max_leaves=8,
    )


def no_slot(slot: SlotNode) -> Node:
    raise AssertionError(f"this tree has no slot {slot.name}")


def all_paths(machine: Acceptor, state: int = 0) -> set[tuple[str, ...]]:
    found = {()} if state in machine.final else set()
    onward = machine.arcs[state].items()
    return found | {(word, *rest) for word, target in onward for rest in all_paths(machine, target)}


@given(nodes())
def test_a_machine_accepts_what_its_tree_says_and_nothing_else(node: Node) -> None:
    machine = acceptor(node, no_slot)
    said = set(strings(node))
    assert all_paths(machine) == said
    assert all(machine.accepts(words) for words in said)
    assert not machine.accepts(("d",)) and not machine.ends_with(("d",))
    for words in said:
        longer = any(other[: len(words)] == words for other in said - {words})
        assert machine.ends_with(words) is not longer
    assert machine.words == {word for words in said for word in words}


@given(nodes())
def test_a_machine_has_no_two_states_from_which_the_same_can_be_said(node: Node) -> None:
    machine = acceptor(node, no_slot)
    endings = [frozenset(all_paths(machine, state)) for state in range(len(machine.arcs))]
    assert len(endings) == len(set(endings))
    assert all(endings), "from every state an end can be reached"


def test_a_slot_stands_for_its_tree() -> None:
    machine = acceptor(sequence(Word("in"), SlotNode("n")), lambda slot: choice(Word("one"), Word("two")))
    assert all_paths(machine) == {("in", "one"), ("in", "two")}


# ---- the grammars of the definitions -------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
@pytest.mark.parametrize("lead_word", [None, "log"])
def test_every_phrase_can_be_heard(name: str, lead_word: str | None) -> None:
    made = grammars(name, lead_word)
    rng = random.Random(11)
    lead = () if lead_word is None else (lead_word,)
    for template in phrases(name).templates:
        for _ in range(3):
            said = sample(phrases(name), template, rng).words
            if template.kind.when == "asked":
                assert made[ASKED].entry.accepts(said), said
                continue
            filler = rng.choice([(), ("um",)])
            assert made[ENTRIES].entry.accepts((*filler, *lead, *said)), said
            assert made[ASKED].entry.accepts((*filler, *lead, *said)), said
            assert made[ENTRIES].entry.accepts(("log", *filler, *said)), said
            assert made[ENTRIES].entry.accepts(said), "heard without the lead word, so that nothing makes it up"


@cache
def overheard(name: str) -> Acceptor:
    """What can be heard and is known to be no entry."""
    known = phrases(name)
    alone = replace(known, templates=tuple(t for t in known.templates if t.kind.when == "asked"))
    return compile_grammars(alone, None)[ENTRIES].entry


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
@pytest.mark.parametrize("grammar", LISTENINGS)
def test_what_can_be_heard_is_understood(name: str, grammar: str) -> None:
    """Apart from a number that contradicts its digits, which is heard so that it can be asked, and from what is known
    to be no entry, which is heard so that none is made of the half of it.
    """
    rng = random.Random(f"{name} {grammar}")
    made = grammars(name)[grammar]
    paths = {random_path(made.entry, rng) + (random_path(made.then, rng) if made.then else ()) for _ in range(200)}
    assert len(paths) > 100
    for said in paths:
        meaning = understand(phrases(name), said, LISTENINGS[grammar])
        assert isinstance(meaning, Understood) or contradicts_itself(said) or overheard(name).accepts(said), said


@pytest.mark.slow
@pytest.mark.parametrize("name", shipped())
def test_of_what_can_be_heard_only_what_follows_the_lead_word_or_is_a_cry_is_understood(name: str) -> None:
    rng = random.Random(name)
    machine = grammars(name, "log")[ENTRIES].entry
    fillers = phrases(name).procedure.fillers
    cries = {words for template in phrases(name).urgent for words in strings(template.said)}
    outcomes = set()
    for _ in range(1000):
        said = random_path(machine, rng)
        addressed = said[0] == "log" or (said[0] in fillers and said[1:2] == ("log",))
        meant = addressed or said in cries or said[1:] in cries
        meaning = understand(phrases(name), said, Listening(lead_word="log"))
        known = contradicts_itself(said) or overheard(name).accepts(said)
        assert isinstance(meaning, Understood) is meant or known, said
        outcomes.add(meant)
    assert outcomes == {True, False}


@pytest.mark.parametrize(
    "said",
    [
        "gastric in",
        "in fifty",
        "fifty",
        "confirm",
        "gastric in fifty seven hundred",
        "gastric in fifty bananas",
        "scratch",
        "log log log",
        "who has the clamp",
    ],
)
def test_what_is_no_entry_cannot_be_heard_as_a_whole_one(said: str) -> None:
    assert not grammars("three-lumen")[ENTRIES].entry.accepts(said.split())
    meaning = understand(phrases("three-lumen"), said)
    logged = [item for item in getattr(meaning, "items", ()) if isinstance(item, Entry)]
    assert [item.kind for item in logged] in ([], ["confirm"], ["undo"]), "typed it may be asked, or mean a command"


@pytest.mark.parametrize("said", ["pressure one hundred", "tube at five", "gastric in seven zero one"])
def test_a_number_that_cannot_be_there_cannot_be_heard_but_is_asked_when_typed(said: str) -> None:
    assert not grammars("three-lumen")[ENTRIES].entry.accepts(said.split())
    meaning = understand(phrases("three-lumen"), said)
    assert isinstance(meaning, Understood)
    assert isinstance(meaning.items[0], Question)


def test_every_situation_has_its_grammar() -> None:
    assert set(grammars("three-lumen")) == set(LISTENINGS)


def test_only_numbers_are_heard_where_only_a_number_can_be_meant() -> None:
    number = grammars("three-lumen")[NUMBER]
    whole = {form for form, reading in table().items() if isinstance(reading.value, int)}
    assert {form for form in table() if number.entry.accepts(form.split())} == whole
    assert number.words <= NUMBER_WORDS | {"a", "and"}
    assert number.then is None


def test_an_answer_can_be_heard_only_while_a_question_is_open() -> None:
    made = grammars("three-lumen")
    for said in ("confirm", "yes confirm", "five zero", "no five zero", "fifty five zero"):
        assert made[ASKED].entry.accepts(said.split())
        assert not made[ENTRIES].entry.accepts(said.split())


@pytest.mark.parametrize("name", shipped())
def test_a_grammar_knows_no_word_that_the_matcher_does_not(name: str) -> None:
    for grammar in grammars(name).values():
        assert grammar.words <= phrases(name).vocabulary
        assert {word for example in grammar.examples for word in example.split()} <= phrases(name).vocabulary
    assert grammars(name)[ENTRIES].words | {"confirm", "yes"} >= phrases(name).words


@pytest.mark.parametrize("name", shipped())
@pytest.mark.parametrize("grammar", LISTENINGS)
def test_the_examples_for_engines_can_all_be_heard(name: str, grammar: str) -> None:
    made = grammars(name)[grammar]
    heard = [example for example in made.examples if made.entry.accepts(example.split())]
    odd = set(made.examples) - set(heard)
    assert all(example == "log" or set(example.split()) & {"half", "point"} for example in odd), sorted(odd)[:5]
    assert len(heard) > 500


@pytest.mark.parametrize("name", shipped())
def test_every_word_of_a_grammar_is_in_some_example(name: str) -> None:
    made = grammars(name)[ENTRIES]
    shown = {word for example in made.examples for word in example.split()}
    assert made.words - shown <= {*phrases(name).procedure.fillers, *AT_THE_START}


@pytest.mark.parametrize("name", shipped())
def test_a_grammar_is_small_enough_to_be_searched_while_somebody_speaks(name: str) -> None:
    assert len(grammars(name)[ENTRIES].entry.arcs) < 2000
