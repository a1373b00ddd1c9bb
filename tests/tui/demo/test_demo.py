"""The demonstration, for real: the shipped recording through the real engines, against the record it gives today.

What the engines mishear stays in `demo-expected.txt` as they heard it. A change that makes them hear better or worse
shows here; write the file anew with TAMPONADE_DEMO=write and read the difference.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path

import pytest

from log.exports import FORMATS
from log.facts.events import CaptureGap, Fact, FindingRaised
from log.facts.record import Record, fold
from log.rules.definitions import of_case
from log.store import case as store
from log.store.folder import SUFFIX, case_names
from log.store.verify import verify
from log.words.entry_text import as_entry_text
from tui.commands.demo import has_room

pytestmark = pytest.mark.slow

EXPECTED = Path(__file__).parent / "demo-expected.txt"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("demo")
    command = [sys.executable, "-c", "from tui.cli import main; main()", "demo", "--out", str(out)]
    environment = os.environ | {"TAMPONADE_MODELS": str(out / "no-models"), "COLUMNS": "120"}
    environment["TAMPONADE_KEY"] = str(out / "key")
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (out / "screen.txt").write_text(done.stdout, encoding="utf-8")
    return out


@pytest.fixture(scope="module")
def stored(folder: Path) -> tuple[Fact, ...]:
    (name,) = case_names(folder)
    return store.read(folder, name).facts


@pytest.fixture(scope="module")
def record(stored: tuple[Fact, ...]) -> Record:
    return fold(stored)


def as_text(stored: tuple[Fact, ...], record: Record) -> Iterator[str]:
    procedure = of_case(stored)
    assert record.opened is not None
    for line in record.lines:
        seconds = int((line.said_at - record.opened.logged_at).total_seconds())
        changes = "".join(f" [{change.what}]" for change in line.changes if change.what != "struck")
        yield f"{seconds // 60}:{seconds % 60:02} {line.status:<6} {as_entry_text(procedure, line.entry)}{changes}"
        for found in record.findings:
            if found.raised.number == line.number:
                yield f"        ! {found.raised.level} {found.raised.rule}{' (settled)' if found.settled else ''}"


def test_the_demo_gives_the_expected_record(stored: tuple[Fact, ...], record: Record) -> None:
    text = "\n".join(as_text(stored, record)) + "\n"
    if os.environ.get("TAMPONADE_DEMO") == "write":
        EXPECTED.write_text(text, encoding="utf-8")
    assert text == EXPECTED.read_text(encoding="utf-8")


@pytest.mark.parametrize(("columns", "lines", "room"), [(100, 30, True), (99, 30, False), (100, 29, False)])
def test_a_terminal_that_is_large_enough_gets_the_rooms_screen(columns: int, lines: int, room: bool) -> None:
    assert has_room(os.terminal_size((columns, lines))) is room


def test_at_least_five_deliberate_rule_breaks_are_found(stored: tuple[Fact, ...]) -> None:
    raised = {fact.rule for fact in stored if isinstance(fact, FindingRaised)}
    broken = {"first_gastric_volume", "gastric_first", "oesophageal_ceiling", "mark_migration", "traction_too_heavy"}
    assert broken <= raised


def test_most_of_what_was_said_is_in_the_record_and_no_talk_is(record: Record) -> None:
    """Entries that stand are compared with the script, in order: kind, site and value."""
    script = tomllib.loads((files("tui.demo") / "script.toml").read_text(encoding="utf-8"))
    meant = [m for line in script["line"] if isinstance(m := line["means"], dict)]
    wanted = [(m["kind"], m.get("site"), m.get("value")) for m in meant]
    standing = [
        (line.original.kind, line.original.site, line.original.value)
        for line in record.lines
        if line.status == "stands"
    ]
    matched = 0
    rest = iter(wanted)
    for entry in standing:
        assert entry in wanted, f"{entry} stands in the record, but nobody said it"
        matched += any(entry == said for said in rest)
    assert matched >= 35


def test_nothing_was_missed_for_want_of_an_engine(stored: tuple[Fact, ...]) -> None:
    assert not [fact for fact in stored if isinstance(fact, CaptureGap)]


def test_everything_is_written_with_the_cautions(folder: Path) -> None:
    (name,) = case_names(folder)
    written = {path.name.removeprefix(name) for path in folder.glob(f"{name}*")}
    assert {export.suffix for export in FORMATS.values()} <= written
    for suffix in (".md", ".csv", ".audit.csv", ".jsonl", ".html", ".fhir.json"):
        text = (folder / f"{name}{suffix}").read_text(encoding="utf-8")
        assert "Not a medical device" in text
    assert "Not a medical device" in (folder / "screen.txt").read_text(encoding="utf-8")


def test_the_case_verifies_with_the_sound_of_everything_that_was_heard(folder: Path, record: Record) -> None:
    (name,) = case_names(folder)
    report = verify(folder / f"{name}{SUFFIX}")
    assert (report.problems, report.sounds_missing) == ((), ())
    origins = [*(line.origin for line in record.lines), *(missed.origin for missed in record.missed)]
    assert all(origin.sound is not None for origin in origins)
    assert report.sounds >= len({origin.sound for origin in origins})
