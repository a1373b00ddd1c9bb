"""The journal that a kill leaves beside a case, copies that are put back beside it, and backups."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from log.basics.errors import InputError, NotVerified, TamponadeError
from log.facts.events import EntryLogged
from log.facts.record import fold
from log.store import case as store
from log.store.backup import back_up
from log.store.journal import journal_of
from log.store.own_heads import memory_path
from log.store.verify import verify
from tests.case_file import SOUNDS, at, body, go_on, logged, make, opened, tamper

LINES = 30


def a_killed_case(folder: Path, encrypt: bool = False) -> Path:
    """A case as a kill leaves it: the file with some facts, the journal with the others; `old.case` is a copy from
    before these."""
    path = make(folder / "first", encrypt=encrypt)
    shutil.copy(path, folder / "old.case")
    with store.resume(path.parent, "case") as case:
        there = list(case.facts())
        for number in range(4, LINES):
            there.append(one_more(number))
            case.append(there[-1:], fold(there).summary)
            if number == LINES // 2:
                case.fold_in()
        for name in (path, journal_of(path)):
            shutil.copy(name, folder)
    memory_path().unlink()  # a killed program remembers nothing, and what it wrote is missing in a copy from before
    return folder / "case.case"


@pytest.fixture
def killed(tmp_path: Path) -> Path:
    """A plain one."""
    return a_killed_case(tmp_path)


def one_more(number: int) -> EntryLogged:
    """An entry at the end of the case."""
    return logged(number, 30 + number % 10).model_copy(update={"logged_at": at(5), "said_at": at(4.5)})


def facts(path: Path) -> int:
    return len(store.read(path.parent, path.name.removesuffix(".case")).facts)


def test_what_a_kill_left_in_the_journal_is_read_and_gone_on_with(killed: Path) -> None:
    assert facts(killed) == LINES + 2
    assert verify(killed).problems == ()
    store.resume(killed.parent, "case").close()
    assert facts(killed) == LINES + 2 and not journal_of(killed).exists()


@pytest.mark.parametrize(
    "use",
    [verify, facts, lambda path: store.resume(path.parent, "case").close()],
    ids=["verify", "read", "resume"],
)
def test_an_older_copy_put_back_beside_a_journal_stays_as_it_is(killed: Path, use: Callable[[Path], object]) -> None:
    journal, copy = journal_of(killed).read_bytes(), (killed.parent / "old.case").read_bytes()
    killed.write_bytes(copy)
    with pytest.raises(InputError, match=r"is now case\.case-wal\.set-aside-1 - run the command again"):
        use(killed)
    assert killed.read_bytes() == copy
    assert (killed.parent / "case.case-wal.set-aside-1").read_bytes() == journal
    assert verify(killed).problems == () and facts(killed) == 6


def test_the_journal_of_an_encrypted_case_is_looked_at_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("sqlcipher3", reason="the extra `encryption` is not installed")
    monkeypatch.setenv("TAMPONADE_PASSPHRASE", "correct horse")
    killed = a_killed_case(tmp_path, encrypt=True)
    assert facts(killed) == LINES + 2
    copy, report = back_up(killed, tmp_path / "backups")
    assert report.facts == LINES + 2 and b"pressure" not in copy.read_bytes()
    shutil.copy(tmp_path / "old.case", killed)
    with pytest.raises(InputError, match="set-aside-1"):
        verify(killed)
    assert facts(killed) == 6


def test_a_newer_copy_is_not_taken_back_to_what_an_older_journal_says(killed: Path) -> None:
    newest = killed.parent / "first" / "case.case"
    go_on(newest, one_more(LINES))
    shutil.copy(newest, killed)
    with pytest.raises(InputError, match="set-aside-1"):
        verify(killed)
    assert facts(killed) == LINES + 4


def test_a_journal_that_is_cut_anywhere_is_this_cases_own_and_gives_whole_entries(killed: Path) -> None:
    whole, journal = store.read(killed.parent, "case").facts, journal_of(killed).read_bytes()
    for length in range(1, len(journal), len(journal) // 37):
        journal_of(killed).write_bytes(journal[:length])
        there = store.read(killed.parent, "case").facts
        assert there == whole[: len(there)] and verify(killed).problems == (), length


def test_a_journal_whose_case_is_gone_is_not_that_of_a_new_one(killed: Path) -> None:
    killed.unlink()
    with store.create(killed.parent, opened()) as case:
        assert len(case.facts()) == 1
    assert verify(killed).problems == ()
    assert (killed.parent / "case.case-wal.set-aside-1").exists()


def test_a_damaged_case_and_its_journal_are_left_as_they_are(killed: Path) -> None:
    killed.write_bytes(killed.read_bytes()[:4096] + b"\0" * 8192)
    journal_of(killed).write_bytes(journal_of(killed).read_bytes()[:5000])
    with pytest.raises(TamponadeError, match="damaged"):
        store.read(killed.parent, "case")
    assert journal_of(killed).exists()


# ---- the file alone ------------------------------------------------------------------------------------------------


def test_the_file_alone_holds_what_was_written_before_a_pause(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with store.create(tmp_path, opened()) as case:
        case.append(body(), fold([opened(), *body()]).summary, SOUNDS)
        case.fold_in()
        shutil.copy(case.path, tmp_path / "copy.case")
        assert facts(tmp_path / "copy.case") == 6
        monkeypatch.setattr("log.store.writing.FOLD_SECONDS", 0.0)
        case.append([logged(4, 35)], fold([opened(), *body(), logged(4, 35)]).summary)
        shutil.copy(case.path, tmp_path / "copy.case")
    assert facts(tmp_path / "copy.case") == 7


# ---- backups -------------------------------------------------------------------------------------------------------


def test_a_backup_of_a_case_that_is_being_written_is_whole_and_newer_ones_replace_it(killed: Path) -> None:
    there = killed.parent / "backups"
    with store.resume(killed.parent, "case") as case:
        copy, report = back_up(killed, there)
        assert (copy, report.facts, report.sounds) == (there / "case.case", LINES + 2, 2)
        case.append([], fold(case.facts()).summary)
    go_on(killed, one_more(LINES))
    back_up(killed, there)
    assert [path.name for path in there.iterdir()] == ["case.case"]
    assert copy.stat().st_mode & 0o777 == 0o600
    assert facts(copy) == LINES + 4


def test_a_backup_replaces_nothing_that_the_case_does_not_go_on_from(tmp_path: Path) -> None:
    path, there = make(tmp_path), tmp_path / "backups"
    other = make(there, facts=[logged(1, 99)])
    memory_path().unlink()  # the two are of one beginning
    before = other.read_bytes()
    with pytest.raises(InputError, match="is another case"):
        back_up(path, there)
    with pytest.raises(InputError, match="is the case itself"):
        back_up(path, tmp_path)
    assert other.read_bytes() == before and [one.name for one in there.glob("*.backup")] == []


def test_a_case_that_does_not_verify_replaces_no_backup(tmp_path: Path) -> None:
    path = make(tmp_path)
    copy, _ = back_up(path, tmp_path / "backups")
    tamper(path, "UPDATE facts SET line = replace(line, '36', '46') WHERE seq = 3")
    with pytest.raises(NotVerified, match=r"fact 3: .*no copy was made"):
        back_up(path, tmp_path / "backups")
    assert verify(copy).problems == ()
