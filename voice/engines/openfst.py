"""Graphs as vosk reads them: what may be said, and how it sounds, as OpenFst binary files made without OpenFst.

Only what the engine needs: the type `const` for the grammar, `olabel_lookahead` for the words and their sounds (both
over the tropical semiring, where a cost is a negative natural logarithm), and the table of words inside a graph that
somebody else made. Format: OpenFst 1.6 to 1.8 as Debian's libfst-tools write it, little-endian; the tests compare.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, NamedTuple

import numpy as np
import numpy.typing as npt

from log.basics.errors import EngineError

EMPTY = 0
"""The label of a step without input or output."""

_MAGIC, _SYMBOLS_MAGIC, _ADD_ON_MAGIC = 0x7EB2FDD6, 0x7EB2FB74, 446_681_434
_CONST_VERSION, _LOOKAHEAD_VERSION = 2, 1
_HAS_INPUT_SYMBOLS, _HAS_OUTPUT_SYMBOLS = 1, 2
_LONGEST_NAME = 4096

_EXPANDED, _ACCEPTOR, _SORTED_BY_INPUT, _SORTED_BY_OUTPUT = 1 << 0, 1 << 16, 1 << 28, 1 << 30
"""The properties that are declared; readers work out those that are left open."""

_STATE = np.dtype([("cost", "<f4"), ("first", "<u4"), ("arcs", "<u4"), ("no_input", "<u4"), ("no_output", "<u4")])
_ARC = np.dtype([("input", "<i4"), ("output", "<i4"), ("cost", "<f4"), ("target", "<i4")])


class Arc(NamedTuple):
    """One step. Labels are numbers of sounds or words, EMPTY for none; `cost` is added along the way."""

    source: int
    target: int
    input: int
    output: int
    cost: float


@dataclass(frozen=True, slots=True)
class Graph:
    """A weighted graph that starts in state 0."""

    states: int
    arcs: Sequence[Arc]
    final: Mapping[int, float] = field(default_factory=dict)
    """State in which it may end -> cost of ending there."""


def const_bytes(graph: Graph) -> bytes:
    """An acceptor (equal labels on both sides of every arc) as type `const`, its arcs sorted by label."""
    return _const(graph, "input", _EXPANDED | _ACCEPTOR | _SORTED_BY_INPUT | _SORTED_BY_OUTPUT)


def lookahead_bytes(graph: Graph, words: int) -> bytes:
    """A transducer as type `olabel_lookahead`: with every state the output labels that can come next.

    Output labels are 1 to `words`. They are kept as they are; the format does not ask for any order of them.
    """
    properties = _EXPANDED | _SORTED_BY_OUTPUT
    end = words + 1  # how the format says that a state can come to an end without another label
    head = _header("olabel_lookahead", _LOOKAHEAD_VERSION, properties, start=-1, states=0, arcs=0)
    inner = _const(graph, "output", properties)
    # Of the two tables it may carry only that of output labels is there, with no numbering of labels of its own.
    table = struct.pack("<?????iq", True, False, True, False, False, end, graph.states)
    reach = _reach(graph, end)
    known = {labels: _intervals(labels) for labels in set(reach)}
    rows = b"".join(known[labels] for labels in reach)
    return head + struct.pack("<i", _ADD_ON_MAGIC) + inner + table + rows


def read_symbols(path: Path) -> dict[str, int] | None:
    """The table of words inside a graph file, word -> label; None if it has none. Raises EngineError."""
    try:
        with path.open("rb") as file:
            (magic,) = _numbers(file, "<I")
            if magic != _MAGIC:
                raise ValueError("another kind of file")
            _text(file), _text(file)  # its type and the type of its arcs
            _, flags, *_ = _numbers(file, "<iiQqqq")
            tables = [_symbol_table(file) for bit in (_HAS_INPUT_SYMBOLS, _HAS_OUTPUT_SYMBOLS) if flags & bit]
    except (OSError, ValueError) as error:
        raise EngineError(f"{path} cannot be read as a graph ({error})", "add the model again") from None
    return tables[-1] if tables else None


def _const(graph: Graph, sort_by: str, properties: int) -> bytes:
    arcs = np.array([(arc.input, arc.output, arc.cost, arc.target) for arc in graph.arcs], dtype=_ARC)
    sources = np.array([arc.source for arc in graph.arcs], dtype=np.int64)
    order = np.lexsort((arcs[sort_by], sources))  # stable: equal labels stay in the order they were given
    arcs, sources = arcs[order], sources[order]
    states = np.zeros(graph.states, dtype=_STATE)
    states["cost"] = [graph.final.get(state, math.inf) for state in range(graph.states)]
    states["arcs"] = _counted(sources, graph.states)
    states["first"] = np.cumsum(states["arcs"]) - states["arcs"]
    states["no_input"] = _counted(sources[arcs["input"] == EMPTY], graph.states)
    states["no_output"] = _counted(sources[arcs["output"] == EMPTY], graph.states)
    head = _header("const", _CONST_VERSION, properties, start=0, states=graph.states, arcs=len(arcs))
    return head + states.tobytes() + arcs.tobytes()


def _counted(sources: npt.NDArray[np.int64], states: int) -> npt.NDArray[np.int64]:
    return np.bincount(sources, minlength=states)


def _header(kind: str, version: int, properties: int, start: int, states: int, arcs: int) -> bytes:
    names = b"".join(struct.pack("<i", len(name)) + name for name in (kind.encode(), b"standard"))
    return struct.pack("<I", _MAGIC) + names + struct.pack("<iiQqqq", version, 0, properties, start, states, arcs)


def _reach(graph: Graph, end: int) -> list[int]:
    """For every state the set of output labels that can come next, as the bits of a number; bit `end` is the end."""
    reach = [0] * graph.states
    before: list[list[int]] = [[] for _ in range(graph.states)]
    for arc in graph.arcs:
        if arc.output:
            reach[arc.source] |= 1 << arc.output
        elif arc.source != arc.target:
            before[arc.target].append(arc.source)
    for state in graph.final:
        reach[state] |= 1 << end
    waiting = [state for state in range(graph.states) if reach[state]]
    while waiting:
        state = waiting.pop()
        for source in before[state]:
            if reach[state] & ~reach[source]:
                reach[source] |= reach[state]
                waiting.append(source)
    return reach


def _intervals(reach: int) -> bytes:
    """A set of labels as half-open intervals, and how many labels they hold."""
    bits = np.flatnonzero(np.frombuffer(bin(reach)[:1:-1].encode(), dtype=np.uint8) == ord("1"))
    breaks = np.flatnonzero(np.diff(bits) > 1)
    first = bits[np.concatenate(([0], breaks + 1))] if bits.size else bits
    last = bits[np.concatenate((breaks, [bits.size - 1]))] if bits.size else bits
    pairs = np.column_stack((first, last + 1)).astype("<i4")
    return struct.pack("<q", len(pairs)) + pairs.tobytes() + struct.pack("<i", bits.size)


def _symbol_table(file: BinaryIO) -> dict[str, int]:
    (magic,) = _numbers(file, "<I")
    if magic != _SYMBOLS_MAGIC:
        raise ValueError("its table of words is of another kind")
    _text(file)  # its name
    _, size = _numbers(file, "<qq")
    return {_text(file): _numbers(file, "<q")[0] for _ in range(size)}


def _numbers(file: BinaryIO, layout: str) -> tuple[int, ...]:
    data = file.read(struct.calcsize(layout))
    if len(data) < struct.calcsize(layout):
        raise ValueError("it ends early")
    return struct.unpack(layout, data)


def _text(file: BinaryIO) -> str:
    (length,) = _numbers(file, "<i")
    if not 0 <= length <= _LONGEST_NAME:
        raise ValueError("a name in it has an impossible length")
    return file.read(length).decode("utf-8")
