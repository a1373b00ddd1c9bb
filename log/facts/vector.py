"""A list that is never changed: a longer or a corrected one shares its blocks with the one before, so that one more
fact costs the same after ten as after a hundred thousand, for the collector of garbage as well, which looks into
every new object and finds a block of a few hundred elements and never the whole list.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import chain
from typing import Generic, TypeVar, overload

T = TypeVar("T")

BLOCK = 256


class Vector(Sequence[T], Generic[T]):
    """Full blocks, and a tail that is shorter than one."""

    __slots__ = ("_blocks", "_tail")

    def __init__(self, items: Iterable[T] = ()) -> None:
        self._blocks, self._tail = _in_blocks(tuple(items))

    def append(self, item: T) -> Vector[T]:
        """With one more at the end."""
        return self.replaced_from(len(self), (item,))

    def set(self, index: int, item: T) -> Vector[T]:
        """With another element in this place, counted from 0. Raises IndexError if there is none."""
        if not 0 <= index < len(self):
            raise IndexError(index)
        which, place = divmod(index, BLOCK)
        block = (*self._blocks, self._tail)[which]
        changed = (*block[:place], item, *block[place + 1 :])
        if which == len(self._blocks):
            return _of(self._blocks, changed)
        return _of((*self._blocks[:which], changed, *self._blocks[which + 1 :]), self._tail)

    def replaced_from(self, index: int, items: Iterable[T]) -> Vector[T]:
        """The first `index` elements, and then these."""
        which, place = divmod(index, BLOCK)
        kept = self._tail if which == len(self._blocks) else self._blocks[which]
        blocks, tail = _in_blocks((*kept[:place], *items))
        return _of((*self._blocks[:which], *blocks), tail)

    def __len__(self) -> int:
        return len(self._blocks) * BLOCK + len(self._tail)

    @overload
    def __getitem__(self, index: int) -> T: ...
    @overload
    def __getitem__(self, index: slice) -> tuple[T, ...]: ...
    def __getitem__(self, index: int | slice) -> T | tuple[T, ...]:
        if isinstance(index, slice):
            return tuple(self[place] for place in range(*index.indices(len(self))))
        if index < 0:
            index += len(self)
        if index < 0:
            raise IndexError(index)
        which, place = divmod(index, BLOCK)
        return self._tail[place] if which == len(self._blocks) else self._blocks[which][place]

    def __iter__(self) -> Iterator[T]:
        return chain.from_iterable((*self._blocks, self._tail))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Vector):
            return NotImplemented
        return (self._blocks, self._tail) == (other._blocks, other._tail)

    def __hash__(self) -> int:
        return hash((self._blocks, self._tail))

    def __repr__(self) -> str:
        return f"Vector({list(self)!r})"


def _of(blocks: tuple[tuple[T, ...], ...], tail: tuple[T, ...]) -> Vector[T]:
    vector: Vector[T] = Vector()
    vector._blocks, vector._tail = blocks, tail
    return vector


def _in_blocks(items: tuple[T, ...]) -> tuple[tuple[tuple[T, ...], ...], tuple[T, ...]]:
    full = len(items) // BLOCK * BLOCK
    return tuple(items[start : start + BLOCK] for start in range(0, full, BLOCK)), items[full:]
