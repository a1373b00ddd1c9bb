"""The graphs' bytes are what OpenFst itself would read and write."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from log.basics.errors import EngineError
from tests.voice.read_fst import read
from voice.engines.openfst import EMPTY, Arc, Graph, const_bytes, lookahead_bytes, read_symbols

LABELS = 5
LOOKAHEAD = ("libfstlookahead.so.22", "libfstlookahead.so")
"""Debian's tools know this type only when its library is loaded first."""


@st.composite
def graphs(draw: st.DrawFn, acceptor: bool = False) -> Graph:
    """Any small graph."""
    states = draw(st.integers(1, 6))
    state, cost = st.integers(0, states - 1), st.integers(-8, 40).map(lambda quarter: quarter / 4)
    arcs = draw(st.lists(st.builds(Arc, state, state, st.integers(0, 9), st.integers(0, LABELS), cost), max_size=15))
    if acceptor:
        arcs = [arc._replace(input=arc.output) for arc in arcs]
    return Graph(states, arcs, draw(st.dictionaries(state, cost)))


def outgoing(graph: Graph, state: int) -> list[tuple[int, int, float, int]]:
    return sorted((arc.input, arc.output, arc.cost, arc.target) for arc in graph.arcs if arc.source == state)


def next_labels(graph: Graph, state: int, end: int) -> set[int]:
    """Output labels that can come next, worked out the slow way."""
    here, found = {state}, set[int]()
    while True:
        onward = {arc.target for arc in graph.arcs if arc.source in here and arc.output == EMPTY} | here
        if onward == here:
            break
        here = onward
    found |= {arc.output for arc in graph.arcs if arc.source in here and arc.output}
    return found | ({end} if here & graph.final.keys() else set())


@given(graphs(acceptor=True))
def test_an_acceptor_is_written_with_its_arcs_sorted_by_label(graph: Graph) -> None:
    written = read(const_bytes(graph))
    assert (written.kind, written.start, written.final) == ("const", 0, graph.final)
    assert [sorted(arcs) for arcs in written.arcs] == [outgoing(graph, state) for state in range(graph.states)]
    for arcs in written.arcs:
        assert [arc[0] for arc in arcs] == sorted(arc[0] for arc in arcs)


@given(graphs())
def test_with_every_state_the_words_that_can_come_next_are_written(graph: Graph) -> None:
    written = read(lookahead_bytes(graph, LABELS))
    assert (written.kind, written.start, written.final) == ("olabel_lookahead", 0, graph.final)
    assert [sorted(arcs) for arcs in written.arcs] == [outgoing(graph, state) for state in range(graph.states)]
    for arcs in written.arcs:
        assert [arc[1] for arc in arcs] == sorted(arc[1] for arc in arcs)
    assert written.end == LABELS + 1
    assert written.reach == [next_labels(graph, state, LABELS + 1) for state in range(graph.states)]


@given(graphs())
def test_the_same_graph_gives_the_same_bytes(graph: Graph) -> None:
    assert const_bytes(graph) == const_bytes(Graph(graph.states, tuple(graph.arcs), dict(graph.final)))
    assert lookahead_bytes(graph, LABELS) == lookahead_bytes(graph, LABELS)


# ---- beside OpenFst's own tools ------------------------------------------------------------------------------------

EXAMPLE = Graph(4, [Arc(0, 1, 5, 1, 0.5), Arc(0, 2, 3, 2, 0.25), Arc(1, 3, 7, 0, 1), Arc(2, 3, 2, 0, 0.5)], {3: 0.0})


SENTENCES = Graph(3, [Arc(0, 1, 2, 2, 0.5), Arc(0, 2, 1, 1, 0.25), Arc(1, 2, 1, 1, 0)], {0: 0.0, 2: 1.5})


@pytest.fixture(scope="module")
def tools() -> dict[str, str]:
    if not all(shutil.which(tool) for tool in ("fstcompile", "fstprint", "fstconvert", "fstinfo")):
        pytest.skip("OpenFst's tools are not installed (Debian: libfst-tools)")
    for library in LOOKAHEAD:
        preloaded = {**os.environ, "LD_PRELOAD": library}
        said = subprocess.run(["fstinfo", "--help"], env=preloaded, capture_output=True, text=True).stderr
        if "cannot be preloaded" not in said:
            return preloaded
    pytest.skip("OpenFst's library for looking ahead is not installed")


def openfst(tools: dict[str, str], *command: str, given: bytes = b"") -> bytes:
    """What one of the tools writes."""
    return subprocess.run(command, env=tools, input=given, capture_output=True, check=True).stdout


def as_text(graph: Graph) -> bytes:
    lines = [f"{a.source}\t{a.target}\t{a.input}\t{a.output}\t{a.cost}" for a in graph.arcs]
    return "\n".join([*lines, *(f"{state}\t{cost}" for state, cost in graph.final.items()), ""]).encode()


@pytest.mark.parametrize(
    ("graph", "data"),
    [(SENTENCES, const_bytes(SENTENCES)), (EXAMPLE, lookahead_bytes(EXAMPLE, 2))],
    ids=["const", "lookahead"],
)
def test_openfst_reads_what_is_written(tools: dict[str, str], graph: Graph, data: bytes) -> None:
    printed = openfst(tools, "fstprint", given=data).decode().splitlines()
    wanted = openfst(tools, "fstprint", given=openfst(tools, "fstcompile", given=as_text(graph))).decode()
    assert sorted(printed) == sorted(wanted.splitlines())
    told = openfst(tools, "fstinfo", "--test_properties", given=data).decode().splitlines()
    assert f"# of states {graph.states}" in [" ".join(line.split()) for line in told]


def test_openfst_writes_the_same_bytes(tools: dict[str, str]) -> None:
    """But for the properties, of which it declares more than needed. (In other graphs it numbers the labels anew.)"""
    for graph, ours, kind in (
        (SENTENCES, const_bytes(SENTENCES), "const"),
        (EXAMPLE, lookahead_bytes(EXAMPLE, 2), "olabel_lookahead"),
    ):
        compiled = openfst(tools, "fstcompile", given=as_text(graph))
        in_order = openfst(tools, "fstarcsort", "--sort_type=olabel", given=compiled)
        theirs = openfst(tools, "fstconvert", f"--fst_type={kind}", given=in_order)
        assert len(ours) == len(theirs)
        properties = read(ours).properties.to_bytes(8, "little")
        for place in (i for i in range(len(ours)) if ours[i : i + 8] == properties):
            theirs = theirs[:place] + properties + theirs[place + 8 :]
        assert theirs == ours


def test_the_table_of_words_inside_a_graph_is_read(tools: dict[str, str], tmp_path: Path) -> None:
    symbols = tmp_path / "words.txt"
    symbols.write_text("<eps> 0\ngastric 1\n[unk] 2\n")
    with_words = tmp_path / "Gr.fst"
    keep = (f"--isymbols={symbols}", f"--osymbols={symbols}", "--keep_isymbols", "--keep_osymbols")
    with_words.write_bytes(openfst(tools, "fstcompile", *keep, given=b"0 1 gastric gastric\n1 0 [unk] [unk]\n1\n"))
    assert read_symbols(with_words) == {"<eps>": 0, "gastric": 1, "[unk]": 2}


def test_a_graph_without_a_table_of_words_has_none(tmp_path: Path) -> None:
    (tmp_path / "Gr.fst").write_bytes(const_bytes(EXAMPLE))
    assert read_symbols(tmp_path / "Gr.fst") is None


@pytest.mark.parametrize("content", [b"", b"rubbish rubbish", const_bytes(EXAMPLE)[:20], const_bytes(EXAMPLE)[:40]])
def test_a_file_that_is_no_graph_is_reported(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "Gr.fst").write_bytes(content)
    with pytest.raises(EngineError, match=r"Gr\.fst cannot be read as a graph"):
        read_symbols(tmp_path / "Gr.fst")
    with pytest.raises(EngineError, match=r"none\.fst cannot be read"):
        read_symbols(tmp_path / "none.fst")
