"""A reader of OpenFst binary files, written from their bytes and not from the program's writer."""

from __future__ import annotations

import math
import struct
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Read:
    """One file, taken apart."""

    kind: str
    properties: int
    start: int
    final: dict[int, float]
    arcs: list[list[tuple[int, int, float, int]]]
    """For every state: input, output, cost, target."""
    reach: list[set[int]] | None = None
    """For every state the output labels that can come next, where the file says so."""
    end: int = 0
    """The label that stands for an end in `reach`."""

    def costs(self, sentence: Iterable[int]) -> list[float]:
        """The costs of all ways to say this sentence of input labels; there are no empty steps."""
        ways = [(self.start, 0.0)]
        for label in sentence:
            ways = [(t, so_far + c) for s, so_far in ways for i, _, c, t in self.arcs[s] if i == label]
        return [so_far + self.final[state] for state, so_far in ways if state in self.final]


class _Bytes:
    def __init__(self, data: bytes) -> None:
        self.data, self.at = data, 0

    def take(self, layout: str) -> tuple[int, ...]:
        """Numbers in this layout of `struct`."""
        found = struct.unpack_from(layout, self.data, self.at)
        self.at += struct.calcsize(layout)
        return found

    def text(self) -> str:
        """A length and so many letters."""
        (length,) = self.take("<i")
        self.at += length
        return self.data[self.at - length : self.at].decode()


def read(data: bytes) -> Read:
    """Reads a `const` or `olabel_lookahead` file to its last byte."""
    source = _Bytes(data)
    kind, properties, *counts = _header(source)
    if kind == "const":
        found = _const(source, kind, properties, *counts)
    else:
        assert source.take("<i") == (446681434,)
        inner, inner_properties, *counts = _header(source)
        assert (inner, inner_properties) == ("const", properties)
        found = _const(source, kind, properties, *counts)
        assert source.take("<5?") == (True, False, True, False, False)
        end, states = source.take("<iq")
        assert states == len(found.arcs)
        reach = [_intervals(source) for _ in range(states)]
        found = Read(kind, properties, found.start, found.final, found.arcs, reach, end)
    assert source.at == len(data)
    return found


def _header(source: _Bytes) -> tuple[str, int, int, int, int]:
    assert source.take("<I") == (0x7EB2FDD6,)
    kind, arcs = source.text(), source.text()
    assert arcs == "standard"
    version, flags, properties, start, states, count = source.take("<iiQqqq")
    assert (version, flags) == (2 if kind == "const" else 1, 0)
    return kind, properties, start, states, count


def _const(source: _Bytes, kind: str, properties: int, start: int, states: int, count: int) -> Read:
    rows = [struct.unpack_from("<fIIII", source.data, source.at + 20 * state) for state in range(states)]
    source.at += 20 * states
    all_arcs = [struct.unpack_from("<iifi", source.data, source.at + 16 * arc) for arc in range(count)]
    source.at += 16 * count
    assert sum(row[2] for row in rows) == count
    arcs = [all_arcs[first : first + number] for _, first, number, _, _ in rows]
    for row, onward in zip(rows, arcs, strict=True):
        assert row[3:] == (sum(not arc[0] for arc in onward), sum(not arc[1] for arc in onward))
    return Read(kind, properties, start, {s: row[0] for s, row in enumerate(rows) if row[0] < math.inf}, arcs)


def _intervals(source: _Bytes) -> set[int]:
    (number,) = source.take("<q")
    pairs = [source.take("<ii") for _ in range(number)]
    assert all(first < after for first, after in pairs)
    found = {label for first, after in pairs for label in range(first, after)}
    assert source.take("<i") == (len(found),)
    return found
