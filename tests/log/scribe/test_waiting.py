"""A disk that is full while somebody listens: what was shown waits, and is written when there is room."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from log.basics.entry import Entry, Understood
from log.basics.errors import StoreError
from log.exports import FORMATS
from log.facts.events import EntryLogged, SavedLate
from log.facts.origin import Origin
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case, resume
from log.scribe.session import TYPED, Clip, Session
from log.store import case as store
from log.store.verify import verify
from log.store.writing import Case
from log.summaries.whole import whole

NAME = "night"


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A runtime folder with room."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "run"))
    return tmp_path / "run" / "tamponade-log"


@pytest.fixture
def session(tmp_path: Path) -> Session:
    begun = open_case(tmp_path, NAME, load("three-lumen"), TYPED, Keeping())
    begun.ledger.patient = True
    say(begun, 50, 1)
    return begun


def say(session: Session, volume: int, at: float, clip: Clip | None = None) -> None:
    entry = Entry(kind="volume_in", site="gastric", value=volume, unit="mL")
    session.take(Understood(items=(entry,)), at, at, Origin(by="voice"), clip)


def fills_up(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuses(*_: object, **__: object) -> None:
        raise StoreError("the disk is full", "make room")

    monkeypatch.setattr(Case, "_commit", refuses)


def volumes(folder: Path) -> list[object]:
    return [fact.entry.value for fact in store.read(folder, NAME).facts if isinstance(fact, EntryLogged)]


def test_what_the_disk_refuses_waits_in_its_order_and_is_written_when_there_is_room(
    session: Session, tmp_path: Path, elsewhere: Path
) -> None:
    with pytest.MonkeyPatch.context() as full:
        fills_up(full)
        say(session, 60, 10, Clip(b"flac", 1.0))
        say(session, 70, 20)
        assert session.waiting is not None
        waited = sum(isinstance(fact, EntryLogged) for fact in session.waiting.facts)
        assert waited == 2
        assert [line.entry.value for line in session.record.lines] == [50, 60, 70]
        assert session.save(session.time(25)) == ()
        assert len([*elsewhere.iterdir()]) == 1
    say(session, 80, 30)
    session.close(40, "over")
    facts = store.read(tmp_path, NAME).facts
    (late,) = (fact for fact in facts if isinstance(fact, SavedLate))
    assert (late.began_at, late.seconds) == (session.time(10), 20.0)
    assert late.facts >= 3, "the entry after them was taken with them"
    assert volumes(tmp_path) == [50, 60, 70, 80]
    assert not verify(tmp_path / f"{NAME}.case").problems
    assert f"{late.facts} facts waited in memory" in str(FORMATS["note"].write(whole(store.read(tmp_path, NAME))))
    assert not [*elsewhere.iterdir()]


@pytest.mark.parametrize("ends", ["closed", "killed"])
def test_what_waits_when_the_program_ends_joins_the_case_when_it_is_resumed(
    session: Session, tmp_path: Path, ends: str
) -> None:
    with pytest.MonkeyPatch.context() as full:
        fills_up(full)
        say(session, 60, 10, Clip(b"flac", 1.0))
        if ends == "closed":
            with pytest.raises(StoreError, match=r"kept in .*and join the case"):
                session.close(20, "over")
        else:
            session.case.close()
    assert volumes(tmp_path) == [50]
    again = resume(tmp_path, NAME, TYPED, "nurse")
    again.close(0, "over")
    assert volumes(tmp_path) == [50, 60]
    assert not verify(tmp_path / f"{NAME}.case").problems
    resume(tmp_path, NAME, TYPED, "nurse").close(0, "over")
    assert volumes(tmp_path) == [50, 60], "once"


def test_what_waited_for_a_case_that_went_on_without_it_is_left_alone(session: Session, tmp_path: Path) -> None:
    with pytest.MonkeyPatch.context() as full:
        fills_up(full)
        say(session, 60, 10)
        session.case.close()
    with pytest.MonkeyPatch.context() as other:
        other.setenv("XDG_RUNTIME_DIR", str(tmp_path / "other"))
        resume(tmp_path, NAME, TYPED, "nurse").close(0, "over")
    resume(tmp_path, NAME, TYPED, "nurse").close(0, "over")
    assert volumes(tmp_path) == [50]


def test_where_nobody_listens_a_full_disk_is_an_error(session: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    session.ledger.patient = False
    fills_up(monkeypatch)
    with pytest.raises(StoreError, match="the disk is full"):
        say(session, 60, 10)
    assert len(session.record.lines) == 1


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of one megabyte."""
    place = tmp_path / "small"
    place.mkdir()
    mounted = os.geteuid() == 0 and shutil.which("mount") is not None
    command = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)]
    if not mounted or subprocess.run(command, check=False, capture_output=True).returncode:
        pytest.skip("only root may mount a small disk")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_disk_that_is_truly_full(small_disk: Path) -> None:
    session = open_case(small_disk, NAME, load("three-lumen"), TYPED, Keeping())
    session.ledger.patient = True
    say(session, 50, 1)
    filler = small_disk / "filler"
    with filler.open("wb", buffering=0) as file:
        try:
            while file.write(b"\0" * 4096):
                pass
        except OSError:
            pass
    say(session, 60, 10, Clip(os.urandom(200_000), 1.0))
    assert session.waiting is not None and "full" in session.waiting.why
    filler.unlink()
    session.close(20, "over")
    assert volumes(small_disk) == [50, 60]
    assert not verify(small_disk / f"{NAME}.case").problems
