"""Before there is a case it is known whether it can be heard and spoken; and how the engines for each way are had."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import pytest

from log.basics.errors import EngineError
from log.facts.events import ListeningChanged
from log.store import case as store
from log.store.folder import case_names
from tests.tui.conftest import Run
from tests.tui.rooms import Room, room
from tui.commands import loading
from tui.live.listening import LiveCase
from tui.room.plain import PlainRoom
from voice.meaning.ears import Ears


def test_a_microphone_that_is_not_there_leaves_no_case(run: Run, tmp_path: Path) -> None:
    done = run("listen", "--plain", "--cases", tmp_path, "--device", "no such microphone", "--speak")
    assert done.code == 5 and " - " in done.err
    assert not case_names(tmp_path)


def test_a_voice_that_is_not_there_leaves_no_case(
    run: Run, tmp_path: Path, clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    done = run("listen", "--plain", "--cases", tmp_path, "--audio", clip, "--speak")
    assert done.code == 5 and "espeak-ng is not installed" in done.err
    assert not case_names(tmp_path)


def test_engines_that_do_not_start_leave_no_case(
    run: Run, tmp_path: Path, clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuses(*_: object, **__: object) -> Ears:
        raise EngineError("the engine does not start", "install it")

    monkeypatch.setattr(loading, "ears", refuses)
    done = run("listen", "--plain", "--cases", tmp_path, "--audio", clip)
    assert done.code == 5 and "the engine does not start - install it" in done.err
    assert not case_names(tmp_path)


@pytest.mark.slow
def test_without_a_lead_word_the_way_is_open_from_the_start(run: Run, tmp_path: Path, clip: Path) -> None:
    run("listen", "--plain", "--cases", tmp_path, "--case", "x", "--audio", clip, "--lead-word", "none").done()
    (way,) = (fact for fact in store.read(tmp_path, "x").facts if isinstance(fact, ListeningChanged))
    assert (way.mode, way.lead_word, way.author) == ("open", "", "operator")


# ---- typed into plain lines -----------------------------------------------------------------------------------------


@pytest.fixture
def begun(tmp_path: Path) -> Room:
    """A case without lines."""
    return room(tmp_path)


class FakeListening:
    """Remembers what is wanted of it."""

    def __init__(self) -> None:
        self.asked: list[object] = []

    def key_pressed(self) -> None:
        self.asked.append("key")

    def change_mode(self, mode: str, by: str) -> None:
        self.asked.append((mode, by))

    def check_again(self) -> None:
        self.asked.append("check")

    def listen_again(self) -> bool:
        self.asked.append("again")
        return False


def test_lines_that_are_typed_ask_and_change(begun: Room, capsys: pytest.CaptureFixture[str]) -> None:
    begun.say("tube in")
    view, wanted = PlainRoom(begun.session), FakeListening()
    for line in ("", "status", "open", "check", "again", "what?"):
        view.typed(line, cast(LiveCase, wanted))
    assert wanted.asked == ["key", ("open", "scribe"), "check", "again"]
    told = capsys.readouterr().out
    assert '-- next: depth of the tube; say: "tube at five five at the lips"' in told
    assert "-- nothing to restart" in told
    assert "-- type due, status, how long, lead, key, open, pause, on, check or again" in told


@pytest.mark.parametrize("stays", [True, False])
def test_where_somebody_types_a_microphone_that_failed_does_not_end_it(
    begun: Room, capsys: pytest.CaptureFixture[str], stays: bool
) -> None:
    view = PlainRoom(begun.session, stays)
    view.state("stopped", "the microphone cannot be opened")
    assert view.ended.is_set() is not stays
    assert ("type again" in capsys.readouterr().out) is stays
