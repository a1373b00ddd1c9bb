"""A rehearsal as it goes on: in a room that listens, typed by the room's clock, on the screen and aloud."""

from __future__ import annotations

import io
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import cast

import pytest
from rich.console import Console
from textual.pilot import Pilot

from log.basics.errors import InputError, StoreError
from log.facts.events import EntryLogged, Fact, SimulationPlayed
from log.facts.record import fold
from log.facts.simulation import MARK
from log.rehearsal.load import read_scenario
from log.rehearsal.scenario import Scenario
from log.scribe.opening import Keeping, open_case
from log.scribe.session import Session
from log.store import case as store
from log.store.folder import SUFFIX
from log.store.verify import verify
from tests.cases import BEGAN, definition, opened
from tests.tui.live.test_listening import FakeEars, Seen, Source
from tests.tui.rooms import NARROW, WIDE, Room, Size, room, seen, shown, told
from tui.live.aloud import Aloud
from tui.live.listening import LiveCase
from tui.live.rehearsal import TICK, Rehearsal, Ticking, TypedTeam, read_script, run_typed
from tui.room.app import RoomApp
from tui.room.table import LogTable
from tui.serve.page import standing
from tui.views.read_back import ReadBack
from tui.views.simulation import banner, latest, newest
from voice.meaning.ears import Ears
from voice.speak.speaker import Speaker

SLOW_LEAK = read_scenario("slow-leak")

SHORT = Scenario.model_validate(
    {
        "id": "short",
        "title": "Short",
        "story": "An invented patient.",
        "procedure": "three-lumen",
        "patient": {"mark_cm": 52, "mmhg_per_ml": 0.8},
        "event": [
            {"id": "begins", "at": 0, "tell": "It begins: the log reads one minute as one hour.", "speed": 60},
            {"id": "hidden", "at": 5, "tell": "The mark moves.", "hidden": True},
            {"id": "ends", "at": 20, "tell": "It ends.", "ends": True},
        ],
        "wanted": [{"id": "tube", "title": "tube", "entry": [{"kind": "tube", "value": "in"}], "say": "tube in"}],
    }
)
"""Twenty seconds of the case are a third of one in the room."""


def begun(folder: Path, scenario: str = "short", name: str = "sim-1") -> Session:
    return open_case(folder, name, definition()[0], "typed", Keeping(simulation=scenario), BEGAN)


def played(facts: tuple[Fact, ...]) -> list[str]:
    return [fact.event for fact in facts if isinstance(fact, SimulationPlayed)]


def test_nothing_is_ever_played_into_a_case_with_a_patient(tmp_path: Path) -> None:
    real = room(tmp_path)
    before = real.facts()
    with pytest.raises(InputError, match="this is not a rehearsal"):
        Rehearsal(SHORT).step(real.session, 100)
    assert real.facts() == before


def test_the_clock_of_the_case_runs_as_the_scenario_says(tmp_path: Path) -> None:
    session = begun(tmp_path)
    assert played(Rehearsal(SHORT).step(session, 0.0)) == ["begins"]
    assert session.time(0.1) - BEGAN == timedelta(seconds=6)
    assert played(Rehearsal(SHORT).step(session, 0.1)) == ["hidden"]
    assert not Rehearsal(SHORT).step(session, 0.2)
    assert played(Rehearsal(SHORT).step(session, 10)) == ["ends"]
    assert [(f.said_at - BEGAN).total_seconds() for f in session.record.played] == [0, 5, 20]
    session.close(10, "end of typing")
    assert not verify(tmp_path / f"sim-1{SUFFIX}").problems


def test_an_answer_has_as_long_in_the_room_however_fast_the_clock_is(tmp_path: Path) -> None:
    session = begun(tmp_path)
    Rehearsal(SHORT).step(session, 0.0)
    team = TypedTeam(session, Rehearsal(SHORT), definition()[1], quiet(session))
    team.says("gastric in fifty", 1.0)
    assert session.asked(1.0 + 29)
    assert not session.asked(1.0 + 31)


def quiet(session: Session) -> ReadBack:
    return ReadBack(session, Console(file=io.StringIO(), width=100))


def test_somebody_types_by_the_clock_of_the_room(tmp_path: Path) -> None:
    session = begun(tmp_path)
    ticks: Iterator[float] = iter([100.0, 100.0, 100.05, *[100.1] * 5, *[101.0] * 50])
    team = TypedTeam(session, Rehearsal(SHORT), definition()[1], quiet(session))
    run_typed(team, io.StringIO("tube passed\n\n"), lambda: next(ticks))
    facts = session.record
    assert [line.entry.kind for line in facts.lines] == ["tube"]
    assert facts.lines[0].said_at - BEGAN == timedelta(seconds=3)  # 0.05 s at sixty times the speed


def test_a_typed_team_can_ask_the_log_and_acknowledge(tmp_path: Path) -> None:
    session, out = begun(tmp_path), io.StringIO()
    team = TypedTeam(session, Rehearsal(SHORT), definition()[1], ReadBack(session, Console(file=out, width=100)))
    team.says("seen nothing yet", 1)
    team.says("tube passed", 2)
    team.says("status", 3)
    team.says("seen", 4)
    team.says("seen no time for it", 4)
    assert "-- no finding is waiting" in out.getvalue()
    assert "-- tube: in" in out.getvalue()
    assert "-- say why" in out.getvalue()
    assert not session.record.missed
    (seen_one,) = session.record.acknowledgements.values()
    assert seen_one.reason == "no time for it"


def test_lines_of_a_script_bear_the_time_of_the_case() -> None:
    lines = ["# a remark", "00:10 tube passed", "gastric in five zero  # 5 s later", "", "1:00:00", "61:00 status"]
    assert [*read_script(lines, "x")] == [
        (10, "tube passed"),
        (15, "gastric in five zero"),
        (3600, ""),
        (3660, "status"),
    ]


def test_in_a_room_that_listens_events_are_played_beside_what_is_heard(tmp_path: Path) -> None:
    session = open_case(tmp_path, "sim-1", definition()[0], "a fake", Keeping(simulation="short"))
    view, over = Seen(), threading.Event()
    source = Source([], goes_on=True)
    listening = LiveCase(source, session, cast(Ears, FakeEars()), "open", view)
    playing = Ticking(listening, Rehearsal(SHORT), over.set)
    listening.start()
    playing.start()
    assert over.wait(10)
    playing.stop()
    listening.stop("ended by the scribe")
    facts = [fact for some in view.of("told") for fact in cast(tuple[Fact, ...], some)]
    assert played(tuple(facts)) == ["begins", "hidden", "ends"]
    assert all(view.of("told")), "what comes to nothing is not shown"
    assert not verify(tmp_path / f"sim-1{SUFFIX}").problems


def test_without_a_rehearsal_nothing_ticks(tmp_path: Path) -> None:
    real = room(tmp_path)
    playing = Ticking(LiveCase(Source([]), real.session, cast(Ears, FakeEars()), "open", Seen()), None, lambda: None)
    playing.start()
    playing.stop()
    assert not any(isinstance(fact, SimulationPlayed) for fact in real.facts())


# ---- seen and heard ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [WIDE, NARROW], ids=["120", "80"])
def test_the_screen_says_that_it_is_a_simulation_and_what_was_played(size: Size, tmp_path: Path) -> None:
    session = begun(tmp_path, "slow-leak")
    rehearsal = Rehearsal(SLOW_LEAK)
    team = TypedTeam(session, rehearsal, definition()[1], quiet(session))

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.view.notify(rehearsal.step(session, 95))
        await pilot.pause()
        strip = " ".join(seen(app, "#simulation").split())
        assert strip.startswith(f"{MARK} (scenario: slow-leak)")
        assert ">> PLAYED 0:01:30 Handover: it went on bleeding, so 40 mL into the oesophageal balloon." in strip
        assert "TIME" not in strip
        team.says("tube passed", 96)
        team.says("oesophageal pressure three five", 100)
        for number in (1, 2):
            app.query_one(LogTable).put(session.record.line(number))
        app.view.notify(rehearsal.step(session, 125))
        await pilot.pause()
        strip = " ".join(seen(app, "#simulation").split())
        assert "TIME: one minute is one hour" in strip
        assert "from now on one minute is one hour" in strip
        assert "oesophageal pressure 35 mmHg" in seen(app, "#log"), "the scribe still sees the newest line"
        app.view.rehearsal_over()
        await pilot.pause()
        assert "The rehearsal is over. q, then enter" in told(app)

    shown(Room(tmp_path, session, BEGAN), act, size)


def test_where_there_is_little_room_the_event_before_stays_if_nobody_can_have_read_it(tmp_path: Path) -> None:
    def after(*seconds: float) -> tuple[str, ...]:
        events = (
            SimulationPlayed(logged_at=BEGAN, event="x", said_at=BEGAN + timedelta(seconds=s), told=f"at {s:g}")
            for s in seconds
        )
        return newest(fold([opened(definition()[0], simulation="short"), *events]))

    assert after(10) == ("0:00:10 at 10",)
    assert after(10, 20) == ("0:00:20 at 20", "0:00:10 at 10")
    assert after(10, 50) == ("0:00:50 at 50",)


def test_a_case_with_a_patient_has_no_such_strip(tmp_path: Path) -> None:
    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        assert not app.room.query_one("#simulation").display

    shown(room(tmp_path), act)


def test_what_was_not_understood_stays_on_the_screen_when_something_is_played(tmp_path: Path) -> None:
    session = begun(tmp_path)
    here = Room(tmp_path, session, BEGAN)

    async def act(app: RoomApp, pilot: Pilot[None]) -> None:
        app.view.notify(here.say("mind the cable please"))
        await pilot.pause()
        app.view.notify(Rehearsal(SHORT).step(session, 0.0))
        await pilot.pause()
        assert "NOT LOGGED" in seen(app, "#read-back")

    shown(here, act)


def test_the_second_display_says_so_too(tmp_path: Path) -> None:
    from log.summaries.whole import whole

    session = begun(tmp_path)
    Rehearsal(SHORT).step(session, 0.05)
    session.case.close()
    page = standing(whole(store.read(tmp_path, "sim-1")))
    assert MARK in page["case"]
    assert "It begins" in page["case"]


def test_what_is_hidden_is_not_shown(tmp_path: Path) -> None:
    session = begun(tmp_path)
    Rehearsal(SHORT).step(session, 0.1)
    assert [*latest(session.record, 5)] == ["0:00:00 It begins: the log reads one minute as one hour."]
    assert banner(session.record) == f"{MARK} (scenario: short)  TIME: one minute is one hour"
    out = io.StringIO()
    ReadBack(session, Console(file=out, width=100)).notify(tuple(session.record.played))
    assert ">> PLAYED: It begins" in out.getvalue()
    assert "The mark moves" not in out.getvalue()


class Sayings:
    """Remembers what it was to say."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def say(self, text: str) -> None:
        self.said.append(text)


def test_events_are_spoken_without_the_lead_word(tmp_path: Path) -> None:
    session, sayings = begun(tmp_path), Sayings()
    aloud = Aloud(Seen(), session, cast(Speaker, sayings))
    aloud.notify(Rehearsal(SHORT).step(session, 0.1))
    assert sayings.said == ["It begins: the reads one minute as one hour."]
    aloud.notify(session.write_note("x", None, "scribe", BEGAN))
    assert len(sayings.said) == 1


def test_a_played_event_never_counts_as_an_entry(tmp_path: Path) -> None:
    session = begun(tmp_path)
    facts = Rehearsal(SHORT).step(session, 1)
    assert not session.record.lines
    assert not any(isinstance(fact, EntryLogged) for fact in facts)
    assert session.record.summary.entries == 0
    assert session.record.summary.simulation == "short"


class FullDisk(Rehearsal):
    """A rehearsal on a disk that takes nothing."""

    def step(self, session: Session, at: float) -> tuple[Fact, ...]:
        raise StoreError("the disk is full", "free some space")


def test_a_disk_that_takes_nothing_is_reported_once_and_not_at_every_tick(tmp_path: Path) -> None:
    session = open_case(tmp_path, "sim-1", definition()[0], "a fake", Keeping(simulation="short"))
    view, source = Seen(), Source([], goes_on=True)
    listening = LiveCase(source, session, cast(Ears, FakeEars()), "open", view)
    playing = Ticking(listening, FullDisk(SHORT), lambda: None)
    listening.start()
    playing.start()
    for _ in range(100):
        if view.of("failed"):
            break
        threading.Event().wait(0.05)
    threading.Event().wait(3 * TICK)
    playing.stop()
    listening.stop("ended by the scribe")
    assert len(view.of("failed")) == 1
