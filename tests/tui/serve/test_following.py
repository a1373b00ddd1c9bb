"""A case that another program writes is kept up with, and only what is new of it is read."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from log.scribe.opening import Keeping, open_case
from log.scribe.session import Session, wall_clock
from log.store.chain import Link
from log.store.sqlite import read_link_at
from tests.cases import definition
from tests.tui.serving import opened, say
from tui.serve import following as followed
from tui.serve.following import Following


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    session = opened(tmp_path)
    yield session
    session.case.close()


def test_only_what_is_new_is_read(session: Session, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    following = Following(tmp_path, "bay-4")
    monkeypatch.setattr(followed, "whole", None)
    read: list[int] = []

    def noting(path: Path, connection: sqlite3.Connection, seq: int) -> Link:
        read.append(seq)
        return read_link_at(path, connection, seq)

    monkeypatch.setattr(followed, "read_link_at", noting)
    following.look(wall_clock())
    known = len(following.case.links)
    say(session, 100, "gastric five zero in")
    following.look(wall_clock())
    assert read[-1] == len(following.case.links) > known
    assert following.case.record == session.record and following.case.course == session.course
    time.sleep(2 * followed.TICK)
    following.look(wall_clock())
    read.clear()
    for _ in range(5):
        following.look(wall_clock())
    assert read == []


def test_another_case_in_its_place_is_read_whole(session: Session, tmp_path: Path) -> None:
    following = Following(tmp_path, "bay-4")
    following.look(wall_clock())
    session.case.close()
    other = open_case(tmp_path / "other", "bay-4", definition()[0], "typed", Keeping(label="another"))
    other.close(0, "ended")
    other.case.path.replace(session.case.path)
    assert "another" in following.look(wall_clock()).sections["case"]


def test_an_encrypted_case(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("sqlcipher3")
    monkeypatch.setenv("TAMPONADE_PASSPHRASE", "open sesame")
    session = open_case(tmp_path, "locked", definition()[0], "typed", Keeping(encrypt=True))
    following = Following(tmp_path, "locked")
    say(session, 1, "gastric five zero in")
    assert '<span class="value">50</span>' in following.look(wall_clock()).sections["last"]
    session.close(2, "ended")
