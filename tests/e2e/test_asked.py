"""The true program on a virtual microphone: a number that could be two is asked and answered, and what was said in vain
is shown at once.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from log.facts.events import EntryAsked, NotUnderstoodHeard, QuestionAnswered
from log.store import case as store
from log.store.folder import cases_folder
from tests.e2e.terminal import Terminal, terminal
from tests.e2e.virtual_microphone import VirtualMicrophone, virtual_microphone
from tests.tui.speech import spoken

ROOT = Path(__file__).parents[2]


@pytest.fixture
def microphone() -> Iterator[VirtualMicrophone]:
    with virtual_microphone() as one:
        yield one


@pytest.fixture
def room(microphone: VirtualMicrophone, room_model: Path) -> Iterator[Terminal]:
    """The program on the case "night", listening."""
    program = [sys.executable, "-c", "from tui.cli import main; main()", "listen", "--case", "night"]
    environment = {**microphone.environment, "TERM": "screen-256color", "PYTHONPATH": str(ROOT)}
    with terminal(f"asked-{os.getpid()}") as one:
        one.run(program, environment)
        one.wait_for("LISTENING", 60)
        one.wait_without("engines are loading", 60)
        time.sleep(1)
        yield one


def test_a_number_that_could_be_two_is_asked_and_answered_by_voice(
    microphone: VirtualMicrophone, room: Terminal, tmp_path: Path
) -> None:
    microphone.play(spoken(tmp_path / "entry.wav", ["log gastric in fifty, one five"], pause=0.2))
    page = room.wait_for("? ASKED: in no total yet", 60)
    assert "volume in" in page and "c confirm" in page
    microphone.play(spoken(tmp_path / "answer.wav", ["five zero"], pause=0.2))
    room.wait_for("CONFIRMED", 60)
    facts = store.read(cases_folder(), "night").facts
    (asked,) = (fact for fact in facts if isinstance(fact, EntryAsked))
    (answered,) = (fact for fact in facts if isinstance(fact, QuestionAnswered))
    assert {candidate.value for candidate in asked.candidates} >= {15, 50}
    assert (answered.number, answered.entry.value) == (asked.number, 50)


def test_words_for_the_log_that_are_no_entry_are_shown_and_logged_as_missed(
    microphone: VirtualMicrophone, room: Terminal, tmp_path: Path
) -> None:
    microphone.play(spoken(tmp_path / "vain.wav", ["log somebody should tidy the cupboard"], pause=0.2))
    page = room.wait_for("NOT LOGGED", 60)
    assert "l look up" in page and "n late" in page
    (missed,) = (fact for fact in store.read(cases_folder(), "night").facts if isinstance(fact, NotUnderstoodHeard))
    assert "cupboard" in missed.origin.heard
