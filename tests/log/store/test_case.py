"""A case on disk: what was acknowledged is there, whatever happens to the program, the disk or the file."""

from __future__ import annotations

import os
import signal
import sqlite3
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from log.basics.entry import Entry
from log.basics.errors import InputError, StoreError, TamponadeError
from log.facts.events import CaseOpened, EntryLogged, Fact
from log.facts.origin import Origin
from log.facts.summary import Summary
from log.store import case as store
from log.store import sqlite
from log.store.chain import fingerprint
from log.store.folder import case_names, cases_folder, find_case
from log.store.keys import signer
from log.store.writing import Case

NOW = datetime(2025, 3, 4, 2, 0, tzinfo=UTC)
POSIX = pytest.mark.skipif(os.name != "posix", reason="signals, limits and permissions of POSIX systems")

WRITER = """
import itertools, sys
from datetime import UTC, datetime
from pathlib import Path
from log.store import case as store
from log.store.chain import fingerprint
from log.basics.errors import StoreError
from log.facts.events import CaptureGap
from log.facts.summary import Summary
case = store.resume(Path(sys.argv[1]), "case")
if len(sys.argv) > 2:
    import resource, signal
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]),) * 2)
now = datetime(2025, 3, 4, 2, 0, tzinfo=UTC)
for number in itertools.count(1):
    try:
        case.append([CaptureGap(logged_at=now, began_at=now, seconds=number, reason="acknowledged")], Summary())
    except StoreError as error:
        print(error, flush=True)
        break
    print(number, flush=True)
"""
"""Writes until it is stopped, and says after every fact that it is written."""

READER = """
import os, sys
from pathlib import Path
from log.store import case as store
from log.store.chain import fingerprint
from log.basics.errors import StoreError
if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(65534)
    os.setuid(65534)
folder = Path(sys.argv[1])
print(len(store.read(folder, "case").links))
try:
    store.resume(folder, "case")
except StoreError as error:
    print(error)
"""
"""Reads a case without the right to write it, and tries to write it."""


def opened(name: str = "case") -> CaseOpened:
    return CaseOpened(
        logged_at=NOW,
        case=name,
        definition="{}",
        definition_sha256=fingerprint("{}"),
        software="test",
        source="typed",
        public_key=signer().public_key,
    )


def add(case: Case, facts: Iterable[Fact]) -> None:
    case.append(facts, Summary())


def entry(number: int) -> EntryLogged:
    logged = Entry(kind="pressure", site="oesophageal", value=number, unit="mmHg")
    return EntryLogged(logged_at=NOW, number=number, entry=logged, said_at=NOW, origin=Origin())


def facts_in(folder: Path, name: str = "case") -> tuple[Fact, ...]:
    return store.read(folder, name).facts


def begin(folder: Path, name: str = "case", entries: int = 0) -> Path:
    """A case with some entries, closed again."""
    with store.create(folder, opened(name)) as case:
        add(case, (entry(number) for number in range(1, entries + 1)))
    return case.path


@contextmanager
def writer(folder: Path, *more: str) -> Iterator[subprocess.Popen[str]]:
    """Another program that writes the case."""
    command = [sys.executable, "-c", WRITER, str(folder), *more]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
        try:
            yield child
        finally:
            child.kill()


# ---- writing and reading -------------------------------------------------------------------------------------------


def test_what_was_appended_can_be_read_by_another_connection_at_once(tmp_path: Path) -> None:
    with store.create(tmp_path, opened()) as case:
        for number in range(1, 6):
            add(case, [entry(number)])
            assert facts_in(tmp_path) == (opened(), *map(entry, range(1, number + 1)))
        assert case.facts() == facts_in(tmp_path)


def test_facts_are_numbered_in_the_order_in_which_they_were_written(tmp_path: Path) -> None:
    begin(tmp_path, entries=3)
    with store.resume(tmp_path, "case") as case:
        add(case, [entry(4), entry(5)])
    assert [link.seq for link in store.read(tmp_path, "case").links] == [1, 2, 3, 4, 5, 6]


def test_a_closed_case_is_one_file_for_its_owner_only(tmp_path: Path) -> None:
    path = begin(tmp_path / "cases", entries=3)
    assert [file.name for file in path.parent.iterdir() if not file.name.endswith(".lock")] == ["case.case"]
    if os.name == "posix":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_several_facts_are_written_together_or_not_at_all(tmp_path: Path) -> None:
    with store.create(tmp_path, opened()) as case:
        case._connection.execute("PRAGMA max_page_count = 1")  # SQLite raises it to the pages there are: a full disk
        with pytest.raises(StoreError, match=r"the disk is full; what was acknowledged is safe - free some space"):
            add(case, (entry(number) for number in range(1, 500)))
        assert case.facts() == (opened(),)
        case._connection.execute("PRAGMA max_page_count = 10000")
        add(case, [entry(1)])
    assert facts_in(tmp_path) == (opened(), entry(1))


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE facts SET line = '{}' WHERE seq = 2",
        "DELETE FROM facts",
        "DELETE FROM facts WHERE seq = 2",
        "REPLACE INTO facts (seq, line) VALUES (2, '{}')",
        "INSERT INTO facts (seq, line) VALUES (2, '{}') ON CONFLICT DO UPDATE SET line = '{}'",
    ],
)
def test_a_fact_can_be_neither_changed_nor_deleted(tmp_path: Path, change: str) -> None:
    path = begin(tmp_path, entries=2)
    with closing(sqlite3.connect(path)) as connection, pytest.raises(sqlite3.IntegrityError, match="facts are never"):
        connection.execute(change)
    assert facts_in(tmp_path) == (opened(), entry(1), entry(2))


def test_a_case_is_not_begun_twice(tmp_path: Path) -> None:
    begin(tmp_path, entries=1)
    with pytest.raises(StoreError, match="this case exists already"):
        store.create(tmp_path, opened())
    assert facts_in(tmp_path) == (opened(), entry(1))


def test_an_append_after_closing_is_a_store_error(tmp_path: Path) -> None:
    with store.create(tmp_path, opened()) as case:
        pass
    with pytest.raises(StoreError):
        add(case, [entry(1)])


# ---- one writer, many readers --------------------------------------------------------------------------------------


def test_one_program_at_a_time_may_write(tmp_path: Path) -> None:
    with store.create(tmp_path, opened()) as case:
        with pytest.raises(StoreError, match="another program is writing this case"):
            store.resume(tmp_path, "case")
        add(case, [entry(1)])
    with store.resume(tmp_path, "case") as case:
        add(case, [entry(2)])
    assert len(facts_in(tmp_path)) == 3


def test_a_case_can_be_read_and_not_written_while_another_program_writes_it(tmp_path: Path) -> None:
    begin(tmp_path)
    with writer(tmp_path) as child:
        assert child.stdout is not None
        for line in child.stdout:
            assert len(facts_in(tmp_path)) >= int(line) + 1
            with pytest.raises(StoreError, match="another program is writing this case"):
                store.resume(tmp_path, "case")
            if int(line) == 5:
                break


# ---- what happens to programs, disks and files ---------------------------------------------------------------------


@POSIX
@pytest.mark.slow
def test_everything_acknowledged_survives_the_death_of_the_program(tmp_path: Path) -> None:
    """Killed a dozen times at odd moments; each time the next program finds all of it and goes on writing."""
    begin(tmp_path)
    expected: list[float] = []
    for round_ in range(12):
        with writer(tmp_path) as child:
            assert child.stdout is not None
            said = [int(child.stdout.readline())]
            time.sleep(0.003 * round_)
            os.kill(child.pid, signal.SIGKILL)
            said += [int(line) for line in child.stdout if line.endswith("\n")]
        assert child.returncode == -signal.SIGKILL
        found = [getattr(fact, "seconds", 0) for fact in facts_in(tmp_path)[1:]]
        new = found[len(expected) :]
        assert found[: len(expected)] == expected
        assert new == [float(number) for number in range(1, len(new) + 1)]
        assert len(new) - said[-1] in (0, 1), "at most the one that was being written is there unacknowledged"
        expected = found
    with store.resume(tmp_path, "case") as case:
        add(case, [entry(1)])
    assert len(facts_in(tmp_path)) == len(expected) + 2


@POSIX
def test_everything_acknowledged_survives_a_disk_that_takes_no_more(tmp_path: Path) -> None:
    """Writing fails with one line and a remedy; nothing before it is lost, and writing goes on once there is room."""
    begin(tmp_path)
    with writer(tmp_path, "60000") as child:
        assert child.stdout is not None
        *said, last = child.stdout.read().splitlines()
        assert child.wait() == 0
    assert last.startswith(str(tmp_path))
    assert " - " in last
    assert len(said) > 3
    assert len(facts_in(tmp_path)) == len(said) + 1
    with store.resume(tmp_path, "case") as case:
        add(case, [entry(1)])
    assert len(facts_in(tmp_path)) == len(said) + 2


def test_a_case_that_cannot_be_begun_leaves_no_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: Case, facts: object, summary: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr(Case, "append", full)
    with pytest.raises(StoreError, match="the disk is full"):
        store.create(tmp_path, opened())
    assert case_names(tmp_path) == ()


@POSIX
@pytest.mark.parametrize("killed", [False, True], ids=["closed", "writer killed"])
def test_a_case_in_a_folder_that_cannot_be_written_is_read_and_not_written(killed: bool) -> None:
    """Permissions do not bind the superuser: where the tests run as root, the child gives its rights up first."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        begin(folder, entries=2)
        acknowledged = 3
        if killed:
            with writer(folder) as child:
                assert child.stdout is not None
                acknowledged += int(child.stdout.readline())
                child.kill()
                acknowledged += sum(line.endswith("\n") for line in child.stdout)
            assert (folder / "case.case-wal").exists()
        for file in folder.iterdir():
            file.chmod(0o444)
        folder.chmod(0o555)
        try:
            if os.geteuid() == 0 and not stat.S_IMODE(folder.parent.stat().st_mode) & stat.S_IXOTH:
                pytest.skip(f"nobody but root can enter {folder.parent}")
            done = subprocess.run([sys.executable, "-c", READER, place], capture_output=True, text=True, check=False)
        finally:
            folder.chmod(0o755)
        assert done.stderr == ""
        read, refused = done.stdout.splitlines()
        assert int(read) - acknowledged in ((0, 1) if killed else (0,))
        assert "cannot be written" in refused


def test_a_file_on_a_disk_without_journal_is_read_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As root nothing is read-only by permission, so that the answer of the system is replaced."""
    begin(tmp_path, entries=2)
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    assert facts_in(tmp_path) == (opened(), entry(1), entry(2))
    assert {file.name for file in tmp_path.iterdir() if file.is_file()} == {"case.case", "case.case.lock"}


def with_version(path: Path, version: int) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {version}")


def test_a_file_that_is_no_case_is_reported_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "text.case").write_text("gastric in fifty\n" * 100)
    (tmp_path / "noise.case").write_bytes(bytes(range(256)) * 64)
    (tmp_path / "nothing.case").touch()
    with closing(sqlite3.connect(tmp_path / "other.case")) as connection:
        connection.execute("CREATE TABLE facts (note TEXT)")
    with_version(begin(tmp_path, "newer", entries=1), sqlite.FORMAT + 1)
    cut = begin(tmp_path, "cut", entries=300)
    cut.write_bytes(cut.read_bytes()[:20_000])
    for name in ("text", "noise", "nothing", "other", "newer", "cut"):
        for use in (store.read, store.resume):
            if (name, use) == ("cut", store.resume):
                continue  # what is at its beginning is a case; that it is cut shows on reading
            with pytest.raises(InputError) as error:
                use(tmp_path, name)
            told = str(error.value)
            assert told.startswith(f"{tmp_path / name}.case: "), told
            assert "\n" not in told
            assert error.value.remedy


def test_a_case_of_a_newer_format_is_named_as_such(tmp_path: Path) -> None:
    with_version(begin(tmp_path), 7)
    with pytest.raises(InputError, match="format 7, wanted 2"):
        store.read(tmp_path, "case")


def test_a_fact_that_cannot_be_read_is_named_by_its_number(tmp_path: Path) -> None:
    path = begin(tmp_path, entries=2)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute(
            """INSERT INTO facts (line) VALUES ('{"fact": "entry_logged", "number": 3, "seq": 4, "previous": ""}')"""
        )
    with pytest.raises(InputError, match=r"fact 4 cannot be read \(entry_logged\.logged_at: Field required\)"):
        store.read(tmp_path, "case")


# ---- finding a case ------------------------------------------------------------------------------------------------


def test_a_case_is_found_by_name_by_a_beginning_that_fits_only_one_or_by_path(tmp_path: Path) -> None:
    paths = {name: begin(tmp_path, name) for name in ("2025-03-04-0200", "2025-03-04-0911", "2025-03", "night")}
    assert case_names(tmp_path) == tuple(sorted(paths))
    for name, path in paths.items():
        assert find_case(tmp_path, name) == path
        assert find_case(tmp_path / "elsewhere", str(path)) == path
    assert find_case(tmp_path, "n") == paths["night"]
    assert find_case(tmp_path, "2025-03-04-02") == paths["2025-03-04-0200"]
    assert find_case(tmp_path, "2025-03") == paths["2025-03"], "a whole name counts more than a beginning"


def test_a_beginning_that_fits_several_cases_is_reported_with_their_names(tmp_path: Path) -> None:
    for name in ("monday", "monday-2"):
        begin(tmp_path, name)
    with pytest.raises(InputError, match=r'"mon" fits 2 cases - say which: monday, monday-2'):
        find_case(tmp_path, "mon")


@pytest.mark.parametrize("name", ["tuesday", "tuesday.case", "", "../case", "*"])
def test_a_case_that_is_not_there_is_reported(tmp_path: Path, name: str) -> None:
    for use in (find_case, store.read, store.resume):
        with pytest.raises(InputError, match="there is no case named"):
            use(tmp_path / "none", name)


def test_the_folder_is_the_chosen_one_then_that_of_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TAMPONADE_CASES", "/from/environment")
    assert cases_folder(Path("/chosen")) == Path("/chosen")
    assert cases_folder() == Path("/from/environment")
    monkeypatch.delenv("TAMPONADE_CASES")
    assert cases_folder().name == "cases"


def test_every_error_of_the_store_carries_its_exit_code() -> None:
    assert (InputError("x").exit_code, StoreError("x").exit_code) == (3, 6)
    assert issubclass(StoreError, TamponadeError)
