"""Other terminals of the same user have things done to the case that a room holds; nobody else does."""

from __future__ import annotations

import socket
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from log.basics.errors import InputError, StoreError
from log.facts.events import EntryLogged
from log.store.folder import SUFFIX
from tests.cases import definition
from tests.tui.conftest import PROGRAM, Run
from tests.tui.rooms import NAME, Room, well_on
from tui.live import door as doors
from tui.live.door import Door, asked_of_the_room, place, room_answers
from tui.live.request import Request, in_words, performed


@pytest.fixture
def held(tmp_path: Path) -> Iterator[Room]:
    """A room that holds a case, with its door open."""
    room = well_on(tmp_path)
    one_at_a_time = threading.Lock()

    def does(request: Request) -> str:
        with one_at_a_time:
            at = (room.time - room.session.began).total_seconds()
            facts = performed(room.session, definition()[1], request, at)
            return in_words(room.session, facts, request.columns)

    door = Door(case_of(tmp_path), does)
    door.open()
    yield room
    door.close()
    assert not place(case_of(tmp_path)).exists()


def case_of(folder: Path) -> Path:
    return folder / f"{NAME}{SUFFIX}"


def test_commands_reach_the_room_that_holds_the_case(held: Room, run: Run) -> None:
    signed = ("--author", "nurse", "--reason", "misread", "--cases", held.folder)
    assert "AMENDED" in run("amend", NAME, 20, "oesophageal pressure 35", *signed).done()
    assert "STRUCK" in run("strike", NAME, 19, *signed).done()
    assert "PUT BACK" in run("undo", NAME, *signed).done()
    assert "logged" in run("late", NAME, "scissors on the bed", "--at", "14:05", *signed).done()
    assert run("acknowledge", NAME, *signed).done() == "acknowledged\n"
    assert "gastric" in run("say", "gastric aspirate two zero", "--case", NAME, "--cases", held.folder).done()
    who = ("--author", "nurse", "--cases", held.folder)
    run("identify", NAME, "--patient-first", "A. Nonymous", *who).done()
    assert held.session.record.identified is not None
    run("identify", NAME, "--forget", "wrong patient", *who).done()
    assert held.session.record.identified is None
    before, line = held.session.began, held.session.record.line(20).said_at
    moved = run("shift", NAME, "--by", "-1:00", *signed).done()
    assert "moved by -1:00; the log was opened 2026-10-04 13:00" in moved
    hour = timedelta(hours=1)
    assert (held.session.began, held.session.record.line(20).said_at) == (before - hour, line - hour)
    held.time -= hour
    assert "logged" in run("say", "tube secured", "--case", NAME, "--cases", held.folder).done()
    assert held.session.record.lines[-1].said_at == held.time
    run("strike", NAME, 99, *signed).refused(3, "the log has no line 99")
    assert held.verified()
    authors = [line.origin.author for line in held.session.record.lines[20:]]
    assert authors == ["nurse", "operator", "operator"]
    assert held.session.record.line(20).entry.value == 35


def test_another_process_reaches_it_too(held: Room) -> None:
    command = [sys.executable, "-c", PROGRAM, "say", "tube secured", "--case", NAME, "--cases", str(held.folder)]
    assert subprocess.run(command, check=True, capture_output=True, text=True).stdout
    logged = [fact.entry for fact in held.facts() if isinstance(fact, EntryLogged)]
    assert (logged[-1].kind, logged[-1].value) == ("tube", "secured")


def test_a_second_room_is_refused_before_it_listens(held: Room, run: Run, clip: Path) -> None:
    done = run("listen", "--plain", "--audio", clip, "--case", NAME, "--cases", held.folder)
    done.refused(6, "another program is writing this case")
    assert "Measuring" not in done.out


def test_the_door_is_its_owners_alone(held: Room) -> None:
    assert stat.S_IMODE(place(case_of(held.folder)).stat().st_mode) == 0o600


def test_whoever_asks_nothing_or_nonsense_keeps_nobody_waiting(held: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doors, "REQUEST_SECONDS", 0.2)
    case = case_of(held.folder)
    with socket.socket(socket.AF_UNIX) as silent, socket.socket(socket.AF_UNIX) as mad:
        silent.connect(str(place(case)))
        mad.connect(str(place(case)))
        mad.sendall(b"\x00[[[{\n")
        assert b"this cannot be written down" in mad.recv(1000)
        assert room_answers(case)
        with pytest.raises(InputError, match="has no line 99"):
            asked_of_the_room(case, Request(what="strike", author="nurse", reason="x", line=99))


def test_a_room_that_was_killed_leaves_a_door_that_nobody_answers(tmp_path: Path) -> None:
    room = well_on(tmp_path)
    with socket.socket(socket.AF_UNIX) as dead:
        dead.bind(str(place(case_of(tmp_path))))
    request = Request(what="undo", author="nurse", reason="x")
    assert asked_of_the_room(case_of(tmp_path), request) is None
    door = Door(case_of(tmp_path), lambda request: f"done by {request.author}")
    door.open()
    try:
        assert asked_of_the_room(case_of(tmp_path), request) == "done by nurse"
    finally:
        door.close()
        room.session.close(0, "over")


def test_a_long_path_has_its_door_elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    deep = tmp_path / ("long" * 30) / f"{NAME}{SUFFIX}"
    assert place(deep).parent == tmp_path
    assert place(deep) != place(deep.with_name("other.case"))


def test_a_room_that_does_not_answer_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doors, "ANSWER_SECONDS", 0.1)
    with socket.socket(socket.AF_UNIX) as deaf:
        deaf.bind(str(place(case_of(tmp_path))))
        deaf.listen()
        with pytest.raises(StoreError, match="does not answer"):
            asked_of_the_room(case_of(tmp_path), Request(what="undo", author="nurse", reason="x"))
