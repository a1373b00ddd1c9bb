"""The list behind the record is a list like any other, except that nobody can change it."""

from __future__ import annotations

import gc

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from log.facts.vector import BLOCK, Vector

LENGTHS = st.sampled_from([0, 1, 5, BLOCK - 1, BLOCK, BLOCK + 1, 2 * BLOCK, 3 * BLOCK + 7])


@given(LENGTHS, st.data())
@settings(deadline=None, max_examples=150)
def test_it_is_like_a_list(length: int, data: st.DataObject) -> None:
    vector, known = Vector(range(length)), list(range(length))
    for _ in range(6):
        index = data.draw(st.integers(0, len(known)))
        before, then = vector, list(known)
        what = data.draw(st.sampled_from(["append", "set", "replace"]))
        if what == "append":
            vector = vector.append(-1)
            known.append(-1)
        elif what == "set" and index < len(known):
            vector = vector.set(index, -2)
            known[index] = -2
        elif what == "replace":
            items = range(data.draw(LENGTHS))
            vector = vector.replaced_from(index, items)
            known[index:] = items
        assert list(before) == then, "the one before stays as it was"
        assert (list(vector), len(vector), bool(vector)) == (known, len(known), bool(known))
        assert list(reversed(vector)) == known[::-1]
        assert [vector[place] for place in range(-len(known), len(known))] == [*known, *known]
        assert vector[index:] == tuple(known[index:])
        assert vector[:index:3] == tuple(known[:index:3])
        assert vector == Vector(known)
        assert hash(vector) == hash(Vector(known))
        assert vector != Vector([*known, 0])


@pytest.mark.parametrize("length", [0, 3, BLOCK, BLOCK + 1])
def test_what_is_not_there_is_an_error(length: int) -> None:
    vector = Vector(range(length))
    for index in (length, -length - 1, length + BLOCK):
        with pytest.raises(IndexError):
            vector[index]
        with pytest.raises(IndexError):
            vector.set(index, 0)
    assert vector != list(range(length))
    assert repr(Vector([1, 2])) == "Vector([1, 2])"


def test_the_collector_does_not_walk_through_the_whole_of_a_new_one() -> None:
    vector = Vector([object() for _ in range(100_000)]).append(object())
    assert sum(len(gc.get_referents(part)) for part in (vector, *gc.get_referents(vector))) < 4 * BLOCK
