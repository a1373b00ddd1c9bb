"""The language of the phrases: what a template says, and where one that cannot be read goes wrong."""

from __future__ import annotations

import random
import re
import time
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.errors import InputError
from log.definition.load import shipped
from log.rules.definitions import read_procedure
from tests.cases import phrases
from voice.phrases.phrases import (
    compile_phrases,
    fixed_fields,
    logged_value,
    normal_number,
    patterns,
    readable,
    template_problems,
)
from voice.phrases.sample import sample
from voice.templates.expression import (
    SILENCE,
    Choice,
    Node,
    Sequence,
    SlotNode,
    TemplateError,
    Word,
    choice,
    optional,
    parse_template,
    sequence,
    strings,
    vocabulary,
    words,
)

PARTS = {"mils": "(mils|c c)", "last": "[the] last", "nested": "<last> <mils>"}


def says(text: str) -> list[str]:
    """Every way to say a template."""
    return [" ".join(said) for said in strings(parse_template(text, PARTS))]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("tube in", ["tube in"]),
        ("  tube   in ", ["tube in"]),
        ("tube [is] in", ["tube is in", "tube in"]),
        ("(up|down)", ["up", "down"]),
        ("balloon (up|let [all] down)", ["balloon up", "balloon let all down", "balloon let down"]),
        ("[a|b] c", ["a c", "b c", "c"]),
        ("up|down", ["up", "down"]),
        ("in [<mils>]", ["in mils", "in c c", "in"]),
        ("<nested>", ["the last mils", "the last c c", "last mils", "last c c"]),
        ("x-ray don't", ["x-ray don't"]),
        ("{site} in {volume!}", ["{site} in {volume!}"]),
        ("{new_value}{depth}", ["{new_value} {depth}"]),
        ("(a|)", ["a", ""]),
        ("(a|a|b)", ["a", "b"]),
    ],
)
def test_what_a_template_says(text: str, said: list[str]) -> None:
    assert says(text) == said


@pytest.mark.parametrize(
    ("text", "column", "problem"),
    [
        ("gastric [balloon", 17, '"]" is missing'),
        ("gastric (up|down", 17, '")" is missing'),
        ("gastric balloon]", 16, '"]" closes nothing'),
        ("gastric (up]", 12, '"]" closes nothing'),
        ("gastric [up)", 12, '")" closes nothing'),
        ("gastric ) up", 9, '")" closes nothing'),
        ("gastric 50", 9, '"5" is not allowed here'),
        ("Gastric", 1, '"G" is not allowed here'),
        ("in {volume", 4, '"{" is not allowed here'),
        ("in {Volume}", 4, '"{" is not allowed here'),
        ("in {volume!!}", 4, '"{" is not allowed here'),
        ("in volume}", 10, '"}" is not allowed here'),
        ("in <mils", 4, '"<" is not allowed here'),
        ("in  *", 5, '"*" is not allowed here'),
        ("in <litres>", 4, 'there is no part named "litres"'),
        ("in <loop>", 1, "<loop> contains itself"),
        ("", 1, "the template says nothing"),
        ("   ", 1, "the template says nothing"),
        ("()", 1, "the template says nothing"),
        ("<empty>", 1, "the template says nothing"),
    ],
)
def test_a_template_that_cannot_be_read_names_the_column(text: str, column: int, problem: str) -> None:
    with pytest.raises(TemplateError) as error:
        parse_template(text, {**PARTS, "loop": "<loop> again", "empty": ""})
    assert str(error.value).startswith(f"column {column}: ")
    assert problem in str(error.value)


@given(st.text(alphabet="ab [](|)<>{}!-'5A", max_size=20))
def test_any_text_is_a_template_or_a_template_error(text: str) -> None:
    try:
        node = parse_template(text, {"a": "b", "b": "[a] <a>"})
    except TemplateError as error:
        assert str(error).startswith("column ")
    else:
        assert list(islice(strings(node), 100))


def nodes() -> st.SearchStrategy[Node]:
    word = st.sampled_from("abcd").map(Word)
    return st.recursive(
        word | st.just(SlotNode("s")),
        lambda inner: (
            st.lists(inner, min_size=1, max_size=3).map(lambda items: sequence(*items))
            | st.lists(inner, min_size=1, max_size=3).map(lambda items: choice(*items))
            | inner.map(optional)
        ),
        max_leaves=6,
    )


def written(node: Node) -> str:
    """A tree in the language of the templates."""
    match node:
        case Word(text):
            return text
        case SlotNode(name, unit_required):
            return f"{{{name}{'!' if unit_required else ''}}}"
        case Sequence(items):
            return " ".join(written(item) for item in items)
        case Choice(items):
            return "(" + "|".join(written(item) for item in items) + ")"


@given(nodes())
def test_a_tree_written_down_reads_back_as_what_it_says(node: Node) -> None:
    assert set(strings(parse_template(written(node), {}))) == set(strings(node))
    said = {word for string in strings(node) for word in string}
    assert set(vocabulary(node)) == {word for word in said if not word.startswith("{")}


def test_trees_have_no_needless_nesting() -> None:
    assert sequence(Word("a")) == Word("a")
    assert sequence(Word("a"), sequence(Word("b"), Word("c"))) == Sequence((Word("a"), Word("b"), Word("c")))
    assert choice(Word("a"), Word("a")) == Word("a")
    assert optional(Word("a")) == Choice((Word("a"), SILENCE))
    assert words("") == SILENCE
    assert words("a b") == Sequence((Word("a"), Word("b")))


# ---- the phrases of the definitions ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", shipped())
def test_every_template_of_a_shipped_definition_can_be_read(name: str) -> None:
    assert list(template_problems(read_procedure(name))) == []


def test_every_template_that_cannot_be_read_is_reported_with_its_path() -> None:
    procedure = read_procedure("three-lumen")
    broken = procedure.model_copy(update={"parts": {**procedure.parts, "mils": "(mils|", "x_ray": "x-ray ]"}})
    problems = dict(template_problems(broken))
    assert {"parts.mils", "parts.x_ray", "slots.volume.units", "slots.fluid.units"} <= set(problems)
    assert 'column 7: ")" is missing' in problems["parts.mils"]
    xray = [kind.id for kind in procedure.kind].index("xray")
    assert any(path.startswith(f"kind[{xray}].say[0].phrases[") for path in problems)
    assert "slots.depth.units" not in problems


ALTERNATIVES = "|".join(["aa", "ab", "ac", "ad", "ae", "af", "ag", "ah", "ai", "aj"])


@pytest.mark.parametrize(
    ("phrases", "told"),
    [
        ([f"({ALTERNATIVES}) " * 15], "can be said in 1e.15 ways, at most 2000 can be listed"),
        ([f"w{n} ({ALTERNATIVES}) ({ALTERNATIVES}) ({ALTERNATIVES})" for n in "abc" * 20], "comes to 61,.* ways"),
    ],
)
def test_a_definition_that_could_be_said_in_endless_ways_is_refused_at_once(phrases: list[str], told: str) -> None:
    """The first would take 11 GB to list, the second minutes."""
    procedure = read_procedure("three-lumen").model_copy(update={"overheard": tuple(phrases)})
    began = time.process_time()
    ((_, text),) = template_problems(procedure)
    assert re.search(told, text)
    with pytest.raises(InputError, match=f"{told}.* - see all that is wrong"):
        compile_phrases(procedure)
    assert time.process_time() - began < 2


def test_a_unit_that_the_room_does_not_know_is_reported() -> None:
    procedure = read_procedure("three-lumen")
    slots = {**procedure.slots, "depth": procedure.slots["depth"].model_copy(update={"unit": "[in_i]"})}
    problems = dict(template_problems(procedure.model_copy(update={"slots": slots})))
    assert set(problems) == {"slots.depth.unit"}


@pytest.mark.parametrize("name", shipped())
def test_a_sample_is_one_of_the_ways_to_say_its_template(name: str) -> None:
    rng = random.Random(5)
    for template in phrases(name).templates:
        said = sample(phrases(name), template, rng)
        fixed = {key: value for key, value in fixed_fields(phrases(name), template).items() if value is not None}
        assert said.entry.kind == template.kind.id
        assert {key: getattr(said.entry, key) for key in fixed} == fixed
        assert set(said.words) <= phrases(name).vocabulary
        if "{" not in template.text:
            assert said.words in set(strings(template.node))
        assert list(patterns(template))
        assert "!" not in readable(template)


def test_the_vocabulary_has_words_and_numbers_apart() -> None:
    found = phrases("three-lumen")
    assert {"gastric", "mils", "x-ray", "log", "um"} <= found.words
    assert not {"fifty", "zero", "hundred", "half"} & found.words
    assert {"fifty", "zero", "hundred", "half", "gastric"} <= found.vocabulary


def test_grams_are_logged_as_kilos_without_the_dust_of_binary_fractions() -> None:
    grams = phrases("three-lumen").number_slot("grams")
    assert grams is not None
    assert [logged_value(grams, said) for said in (100, 300, 500, 700, 999)] == [0.1, 0.3, 0.5, 0.7, 0.999]
    assert normal_number(50.0) == 50
    assert isinstance(normal_number(50.0), int)
    assert normal_number(0.1 + 0.2) == 0.3
