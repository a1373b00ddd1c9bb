"""A start in a crisis: the case of a tube that is in comes first, and what nobody used is not kept."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from textual.pilot import Pilot

from log.basics.entry import Entry, Understood
from log.facts.origin import Origin
from log.rules.definitions import load
from log.scribe.opening import Keeping, Unfinished, check_free, forget_unused, open_case, resume, unfinished
from log.scribe.session import TYPED, Session, wall_clock
from log.store.folder import SUFFIX, case_names
from tests.tui.conftest import Run
from tui.room.offer import Choice, Offer

NOW = wall_clock()


def kept(folder: Path, name: str, *values: str, ago: float = 1, simulation: str = "") -> Path:
    """A closed case, so many hours old, in which the tube was said to be "in", "out"."""
    began = NOW - timedelta(hours=ago)
    keeping = Keeping(label=f"label of {name}", simulation=simulation)
    session = open_case(folder, name, load("three-lumen"), TYPED, keeping, began)
    for at, value in enumerate(values):
        session.take(Understood(items=(Entry(kind="tube", value=value),)), at, at, Origin(by="voice"))
    session.close(60, "over")
    os.utime(session.case.path, (began.timestamp(), began.timestamp()))
    return session.case.path


def test_the_newest_case_with_a_tube_in_is_found(tmp_path: Path) -> None:
    kept(tmp_path, "first", "in", ago=9)
    kept(tmp_path, "second", "in", ago=5)
    kept(tmp_path, "out-again", "in", "out", ago=2)
    kept(tmp_path, "nothing", ago=1)
    found = unfinished(tmp_path, NOW)
    assert found is not None
    assert (found.name, found.label) == ("second", "label of second")
    assert found.in_words == f"tube in, case of {NOW - timedelta(hours=5):%H:%M}"


def not_there(folder: Path) -> None:
    """No case at all."""


def too_old(folder: Path) -> None:
    kept(folder, "x", "in", ago=25)


def a_rehearsal(folder: Path) -> None:
    kept(folder, "x", "in", simulation="straightforward")


def damaged(folder: Path) -> None:
    kept(folder, "x", "in").write_bytes(b"SQLite format 3\0 and more")


@pytest.mark.parametrize("other", [not_there, too_old, a_rehearsal, damaged])
def test_no_other_case_is_offered(tmp_path: Path, other: Callable[[Path], None]) -> None:
    other(tmp_path)
    assert unfinished(tmp_path, NOW) is None


def test_a_case_that_somebody_holds_is_not_offered(tmp_path: Path) -> None:
    kept(tmp_path, "x", "in")
    session = resume(tmp_path, "x", TYPED, "nurse")
    assert unfinished(tmp_path, NOW) is None
    session.close(0, "over")
    assert unfinished(tmp_path, NOW) is not None
    check_free(tmp_path, "x")


# ---- the offer ------------------------------------------------------------------------------------------------------


def offered(*keys: str, seconds: int = 10) -> str | None:
    """What comes of the offer after these keys."""
    app = Offer(Unfinished("x", datetime(2026, 3, 4, 9, 13), "[bold]bay 4"), seconds)

    async def run() -> None:
        async with app.run_test(size=(80, 24)) as pilot:
            await answered(pilot)

    async def answered(pilot: Pilot[Choice]) -> None:
        assert "case of 09:13 · [bold]bay 4" in str(app.query_one("#offer").render())
        await pilot.press(*keys)
        if not keys:
            app._count()
        await pilot.pause()

    asyncio.run(run())
    return app.return_value


@pytest.mark.parametrize(
    ("keys", "choice"), [(("enter",), "go on"), (("n",), "new"), (("x", "n"), "new"), (("escape",), "leave")]
)
def test_somebody_answers_the_offer(keys: tuple[str, ...], choice: str) -> None:
    assert offered(*keys) == choice


def test_the_case_is_gone_on_with_if_nobody_answers() -> None:
    assert offered(seconds=1) == "go on"


# ---- what nobody used -----------------------------------------------------------------------------------------------


def begun(folder: Path) -> Session:
    session = open_case(folder, None, load("three-lumen"), TYPED, Keeping())
    session.listens("lead word", "log", "operator", 1)
    return session


def test_a_case_in_which_nothing_was_said_is_not_kept(tmp_path: Path) -> None:
    session = begun(tmp_path)
    session.close(2, "over")
    assert forget_unused(session)
    assert [*tmp_path.glob("*case*")] == []


@pytest.mark.parametrize("what", ["an entry", "a gap", "a note"])
def test_a_case_in_which_something_happened_is_kept(tmp_path: Path, what: str) -> None:
    session = begun(tmp_path)
    if what == "an entry":
        session.take(Understood(items=(Entry(kind="tube", value="in"),)), 1, 1, Origin())
    elif what == "a gap":
        session.gap(1, 2, "unplugged")
    else:
        session.write_note("cold", None, "nurse", session.began)
    session.close(2, "over")
    assert not forget_unused(session)
    assert case_names(tmp_path) == (session.case.path.name.removesuffix(SUFFIX),)


def test_without_a_terminal_the_program_alone_shows_its_help(run: Run) -> None:
    done = run()
    assert done.code == 0 and "Commands:" in done.out
