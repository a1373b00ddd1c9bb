"""Cases of somebody who means harm, chained and signed with a key of his own."""

from __future__ import annotations

import csv
import io
import json
import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from log.basics.errors import InputError, TamponadeError
from log.exports import FORMATS
from log.exports.jsonl_import import import_case, read_jsonl
from log.store import case as store
from log.store.chain import fingerprint
from log.store.verify import verify
from log.summaries.whole import whole
from tests.bench.fuzzing.casefiles import ENDLESS
from tests.bench.fuzzing.facts import jsonl
from tests.cases import SIGNER
from tests.log.hostile import FORMULA, STEERS, plain_facts, written

Facts = list[dict[str, Any]]


def refused(folder: Path, path: Path) -> str:
    """What is said of a file that is refused, of which nothing is kept."""
    with pytest.raises(InputError) as caught:
        import_case(folder / "cases", path, word_for=[SIGNER.public_key])
    assert not (folder / "cases").exists() or list((folder / "cases").iterdir()) == []
    assert str(caught.value).isprintable()
    assert path.name in str(caught.value) or "case " in str(caught.value)
    return str(caught.value)


@pytest.mark.slow
@pytest.mark.parametrize("text", [STEERS, FORMULA, "", "w" * 200], ids=["steers", "formula", "nothing", "long"])
def test_text_that_means_harm_is_only_text_in_every_format(tmp_path: Path, text: str) -> None:
    imported = import_case(tmp_path, written(tmp_path / "x.jsonl", plain_facts(text)), word_for=[SIGNER.public_key])
    assert verify(imported.path).problems == ()
    case = whole(store.read(tmp_path, imported.path.stem))
    made = {name: FORMATS[name].write(case) for name in FORMATS}
    texts = {name: out for name, out in made.items() if isinstance(out, str)}
    for name, out in texts.items():
        assert all(c.isprintable() or c in "\r\n" for c in out), name
    for name in ("csv", "audit"):
        cells = [cell for row in csv.reader(io.StringIO(texts[name])) for cell in row]
        assert not [cell for cell in cells if cell.startswith(("=", "+", "@", "\t", "\r"))]


def set_case(name: str) -> Callable[[Facts], None]:
    return lambda facts: facts[0].update(case=name)


def define(change: Callable[[dict[str, Any]], object]) -> Callable[[Facts], None]:
    """A definition of one's own, under its right fingerprint."""

    def changed(facts: Facts) -> None:
        definition = json.loads(facts[0]["definition"])
        change(definition)
        text = json.dumps(definition)
        facts[0] |= {"definition": text, "definition_sha256": fingerprint(text)}

    return changed


def in_first_entry(**fields: object) -> Callable[[Facts], None]:
    return lambda facts: next(f for f in facts if f["fact"] == "entry_logged").update(fields)


def in_first_value(value: object) -> Callable[[Facts], None]:
    return lambda facts: next(f for f in facts if f["fact"] == "entry_logged")["entry"].update(value=value)


HARM: dict[str, Callable[[Facts], object]] = {
    "a name that leaves the folder": set_case("../../x"),
    "a name that is a path": set_case("/tmp/x"),
    "a name with a backslash": set_case("..\\x"),
    "a name with NUL": set_case("x\0y"),
    "a name that steers": set_case("\x1b[2J\n"),
    "a name that is too long": set_case("x" * 101),
    "a name like a file": set_case("x.case"),
    "no name": set_case(""),
    "half a character": set_case("\ud800"),
    "a number beyond all": in_first_value(10**400),
    "infinity": in_first_value(float("inf")),
    "a million and one": in_first_value(1_000_001),
    "a key that steers": lambda facts: facts[3].update({"\x1b[2J" + "w" * 5000: 1}),
    "the beginning of the calendar": in_first_entry(said_at="0001-01-01T00:00:00+14:00"),
    "the end of the calendar": in_first_entry(said_at="9999-12-31T23:59:59.999999-14:00"),
    "a line that is not there": lambda facts: facts.insert(2, facts[-1] | {"fact": "entry_struck", "number": 9}),
    "line nought": lambda facts: facts.append(
        {k: v for k, v in facts[5].items() if k in ("logged_at", "said_at", "origin")}
        | {"fact": "entry_struck", "number": 0, "reason": "", "logged_at": facts[-1]["logged_at"]}
    ),
    "a wrong number": in_first_entry(number=7),
    "no opening": lambda facts: facts.pop(0),
    "nothing": lambda facts: facts.clear(),
    "two openings": lambda facts: facts.insert(1, facts[0]),
    "no limits": define(lambda definition: definition["limits"].clear()),
    "no rules": define(lambda definition: definition["rules"].clear()),
    "a limit beyond all": define(lambda definition: definition["limits"]["gastric_volume"].update(max=1e308)),
    "a clock beyond the calendar": define(lambda d: d["clock"][0]["due"][0].update(after_h=1e300)),
    "a phrase that grows": define(lambda d: d["parts"].update({f"p{n}": f"<p{n + 1}> <p{n + 1}>" for n in range(90)})),
    "nesting": lambda facts: facts[3].update(reason=json.loads("[" * 400 + "]" * 400)),
}


@pytest.mark.parametrize("harm", HARM.values(), ids=HARM.keys())
def test_harm_that_is_chained_and_signed_is_refused_in_one_line(
    tmp_path: Path, harm: Callable[[Facts], object]
) -> None:
    facts = plain_facts("x")
    harm(facts)
    refused(tmp_path, written(tmp_path / "x.jsonl", facts))


LINES = {
    "deep nesting": "[" * 100_000,
    "nesting that the reader takes and the writer does not": '{"a":' * 400 + "1" + "}" * 400,
    "NUL": "\0",
    "a number without end": "9" * 5000,
    "infinity": '{"seq":1e999}',
    "a longest line": "w" * 4_000_001,
    "not an object": "null",
}


@pytest.mark.parametrize("line", LINES.values(), ids=LINES.keys())
@pytest.mark.parametrize("place", [0, 1, -1])
def test_a_line_made_to_break_its_reader_is_reported(tmp_path: Path, line: str, place: int) -> None:
    path = written(tmp_path / "x.jsonl", plain_facts("x"))
    lines = path.read_text(encoding="utf-8").split("\n")
    lines[place] = line
    path.write_text("\n".join(lines), encoding="utf-8")
    refused(tmp_path, path)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(st.characters(), max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


@pytest.mark.slow
@settings(max_examples=30, derandomize=True, suppress_health_check=list(HealthCheck))
@given(number=st.integers(0, 37), field=st.integers(0, 12), value=json_values)
def test_any_json_in_any_field_is_a_fact_or_refused(tmp_path: Path, number: int, field: int, value: Any) -> None:
    facts = plain_facts("x")
    fact = facts[number % len(facts)]
    fact[list(fact)[field % len(fact)]] = value
    try:
        read_jsonl(written(tmp_path / "x.jsonl", facts))
    except TamponadeError as error:
        assert str(error).isprintable()


TRAPS = {
    "facts without end": "DROP TABLE facts; CREATE VIEW facts AS " + ENDLESS + " SELECT x AS seq, '' AS line FROM c",
    "a head without end": "DROP TABLE head; CREATE VIEW head AS " + ENDLESS + " SELECT x AS head, x AS summary FROM c",
    "no table": "DROP TABLE beside",
    "another table": "DROP TABLE beside; CREATE TABLE beside (x)",
}


def case_with(folder: Path, script: str) -> Path:
    """A case into which somebody else has written."""
    path = import_case(folder, written(folder / "x.jsonl", plain_facts("x")), word_for=[SIGNER.public_key]).path
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(script)
    return path


@pytest.mark.parametrize("script", TRAPS.values(), ids=TRAPS.keys())
def test_a_file_with_other_tables_is_no_case(tmp_path: Path, script: str) -> None:
    path = case_with(tmp_path, script)
    for use in (
        verify,
        lambda p: store.read(tmp_path, p.stem),
        lambda p: store.resume(tmp_path, p.stem),
    ):
        with pytest.raises(InputError, match="its tables are not those of a case"):
            use(path)


def test_what_would_run_when_a_case_is_gone_on_with_keeps_it_from_being_written(tmp_path: Path) -> None:
    trap = "BEGIN INSERT INTO beside " + ENDLESS + " SELECT x, x, x'00' FROM c; END"
    path = case_with(tmp_path, f'CREATE TRIGGER "\x1b[2J" AFTER INSERT ON facts {trap}')
    before = path.read_bytes()
    assert len(store.read(tmp_path, path.stem).links) == len(plain_facts("x"))
    assert any("contains unknown tables, views or triggers" in str(problem) for problem in verify(path).problems)
    with pytest.raises(InputError, match="contains unknown tables, views or triggers") as caught:
        store.resume(tmp_path, path.stem)
    assert str(caught.value).isprintable()
    assert path.read_bytes() == before


@pytest.mark.parametrize("line", ["null", "[]", "{", "[" * 900 + "]" * 900, '{"seq":1,"previous":null}', "9" * 5000])
def test_a_case_with_an_end_that_cannot_be_read_is_not_gone_on_with(tmp_path: Path, line: str) -> None:
    path = case_with(tmp_path, f"INSERT INTO facts VALUES (9223372036854775807, '{line}')")
    with pytest.raises(InputError, match="fact 9223372036854775807"):
        store.resume(tmp_path, path.stem)


def test_the_bench_makes_the_same_input_of_the_same_number() -> None:
    assert jsonl(random.Random("1")) == jsonl(random.Random("1")) != jsonl(random.Random("2"))
