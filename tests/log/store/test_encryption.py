"""An encrypted case: nothing of it can be read from the disk, and it is as durable as a plain one."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from log.basics.errors import InputError, StoreError
from log.facts.events import SoundsRemoved
from log.facts.record import fold
from log.store import case as store
from log.store import encryption
from log.store.folder import case_names
from log.store.verify import verify
from tests.bench.killing import SAID, entries, facts_of, nothing_lost, run
from tests.case_file import SOUNDS, at, go_on, logged, make
from tui.cli import tamponade

PASSPHRASE = "four grey herons"
READABLE = (
    b"SQLite format 3",
    b"fLaC",
    b"case_opened",
    b"pressure",
    b"oesophageal",
    b"Somebody",
    b"Bay 4",
    b"operator",
)

pytest.importorskip("sqlcipher3", reason="the package for encrypted cases is not installed: tamponade-log[encryption]")


@pytest.fixture(autouse=True)
def given(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The passphrase in a file."""
    file = tmp_path / "passphrase"
    file.write_text(f"{PASSPHRASE}\n")
    monkeypatch.setenv("TAMPONADE_PASSPHRASE_FILE", str(file))
    monkeypatch.delenv("TAMPONADE_PASSPHRASE", raising=False)
    return file


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "cases"


def readable(folder: Path) -> set[bytes]:
    """What can be read of any file of a case."""
    there = b"".join(path.read_bytes() for path in sorted(folder.glob("*")))
    return {word for word in READABLE if word in there}


def test_nothing_of_an_encrypted_case_can_be_read_from_its_files(folder: Path) -> None:
    path = make(folder, encrypt=True)
    assert readable(folder) == set()
    with store.resume(folder, "case") as case:
        summary = store.summary(path)
        case.append([logged(4, 38).model_copy(update={"logged_at": at(9)})], summary, SOUNDS)
        assert (folder / "case.case-wal").stat().st_size > 0
        assert readable(folder) == set(), "while it is written"
    assert readable(folder) == set()
    plain = make(folder / "plain")
    assert readable(plain.parent) == set(READABLE), "a plain one can be"


def test_an_encrypted_case_is_read_gone_on_with_and_verified_like_any_other(folder: Path) -> None:
    path = make(folder, encrypt=True)
    go_on(path)
    report = verify(path)
    assert (report.problems, report.sounds_missing, report.facts, report.sounds) == ((), (), 7, 2)
    kept = store.read(folder, "case")
    assert kept.identifiers is not None
    assert b"Somebody" in kept.identifiers


@pytest.mark.slow
def test_a_wrong_passphrase_opens_nothing(folder: Path, given: Path) -> None:
    path = make(folder, encrypt=True)
    before = path.read_bytes()
    for wrong in ("four grey heron", f"{PASSPHRASE} ", "Four grey herons", "x'00'"):
        given.write_text(wrong)
        for use in (store.read, store.resume):
            with pytest.raises(InputError, match="the passphrase is wrong") as error:
                use(folder, "case")
            assert error.value.exit_code == 3
            assert str(error.value).startswith(f"{path}: ")
        with pytest.raises(InputError, match="the passphrase is wrong"):
            verify(path)
    assert path.read_bytes() == before


def test_without_a_passphrase_it_says_where_to_put_one(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make(folder, encrypt=True)
    monkeypatch.delenv("TAMPONADE_PASSPHRASE_FILE")
    with pytest.raises(InputError, match="TAMPONADE_PASSPHRASE_FILE"):
        store.read(folder, "case")
    with pytest.raises(InputError, match="TAMPONADE_PASSPHRASE_FILE"):
        make(folder, "other", encrypt=True)
    assert case_names(folder) == ("case",)


def test_a_file_that_holds_no_passphrase_is_reported(folder: Path, given: Path) -> None:
    make(folder, encrypt=True)
    for content, told in ((b"\n", "TAMPONADE_PASSPHRASE_FILE"), (b"\xff\xfe", "cannot be read"), (b"a\0b", "NUL")):
        given.write_bytes(content)
        with pytest.raises(InputError, match=told):
            store.read(folder, "case")
    given.unlink()
    with pytest.raises(InputError, match="the passphrase cannot be read"):
        store.read(folder, "case")


ODD = ("it's", '"quoted"', "Süßölgefäß über Ähren", "a'; DROP TABLE facts; --", f"x'{'0f' * 32}'", "  ", "é" * 400)


@pytest.mark.slow
@pytest.mark.parametrize("passphrase", ODD)
def test_any_passphrase_will_do(folder: Path, given: Path, passphrase: str) -> None:
    given.write_text(passphrase, encoding="utf-8")
    path = make(folder, encrypt=True)
    assert readable(folder) == set()
    go_on(path)
    assert verify(path).problems == ()
    given.write_text(f"{passphrase}.", encoding="utf-8")
    with pytest.raises(InputError):
        store.read(folder, "case")


@pytest.mark.skipif(sys.platform != "linux", reason="finds the program's processes in /proc")
@pytest.mark.slow
def test_what_was_acknowledged_survives_the_death_of_the_program(folder: Path) -> None:
    say = ["say", "--cases", str(folder), "--case", "case", "--encrypt"]
    loading, acknowledged = run(say).seconds, 0
    for later in (0.2, 0.8, 1.4):
        before = facts_of(folder, "case")
        ran = run(say, loading + later, SAID * 60)
        assert (ran.code, ran.told) == (-9, "")
        nothing_lost(before, ran, facts_of(folder, "case"))
        acknowledged += len(ran.acknowledged)
        assert readable(folder) == set()
    assert acknowledged > 0
    assert len(entries(facts_of(folder, "case"))) >= acknowledged


def test_sounds_are_removed_from_it(folder: Path) -> None:
    path = make(folder, encrypt=True)
    gone = SoundsRemoved(logged_at=at(9), sha256=(SOUNDS[0].sha256,), reason="kept long enough", author="scribe")
    with store.resume(folder, "case") as case:
        case.remove([gone], fold([*case.facts(), gone]).summary, gone.sha256)
    report = verify(path)
    assert (report.problems, report.sounds_missing, report.sounds) == ((), (), 1)
    assert readable(folder) == set()
    assert [path.name for path in folder.iterdir() if path.suffix != ".lock"] == ["case.case"]


def test_the_list_of_cases_shows_what_it_cannot_read(folder: Path, given: Path) -> None:
    make(folder, "open")
    make(folder, "shut", encrypt=True)
    listed = CliRunner().invoke(tamponade, ["cases", "--cases", str(folder)]).output.splitlines()
    assert [line.split()[0] for line in listed] == ["open", "shut"]
    assert all("3 entries" in line for line in listed)
    given.write_text("wrong")
    done = CliRunner().invoke(tamponade, ["cases", "--cases", str(folder)])
    assert done.exit_code == 0
    plain, shut = done.output.splitlines()
    assert "3 entries" in plain
    assert "the passphrase is wrong" in shut


@pytest.fixture
def uninstalled(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """As if the package were not there."""
    with monkeypatch.context() as patch:
        patch.setitem(sys.modules, "sqlcipher3.dbapi2", None)
        encryption._library.cache_clear()
        yield
    encryption._library.cache_clear()


def test_without_the_package_an_encrypted_case_says_how_to_get_it_and_a_plain_one_works(
    folder: Path, request: pytest.FixtureRequest
) -> None:
    path = make(folder, encrypt=True)
    request.getfixturevalue("uninstalled")
    for use in (lambda: store.read(folder, "case"), lambda: make(folder, "new", encrypt=True), lambda: verify(path)):
        with pytest.raises(StoreError, match=r"pip install 'tamponade-log\[encryption\]'"):
            use()
    assert case_names(folder) == ("case",)
    assert verify(make(folder, "plain")).problems == ()
