"""Whatever an engine does in its own process, the program gets an answer, or one line that says why there is none."""

from __future__ import annotations

import importlib
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from multiprocessing import resource_tracker, util
from pathlib import Path
from typing import Any

import pytest

from log.basics.errors import EngineError
from tests.voice.fakes import REFUSAL, FakeSpec
from voice.engines import process as engine_process
from voice.engines.process import EngineProcess
from voice.sound.segment import Segment

SEGMENT = Segment(bytes(32_000), 16_000, 40_000)


@pytest.fixture(scope="module")
def shared() -> Iterator[EngineProcess]:
    with closing(EngineProcess(FakeSpec())) as engine:
        engine.wait()
        yield engine


@pytest.fixture
def engine(shared: EngineProcess) -> Iterator[EngineProcess]:
    """An engine that answers, and that every test leaves so."""
    yield shared
    assert shared.hear(SEGMENT, "entries").text == "entries"


def ask(engine: EngineProcess, method: str, *arguments: object) -> object:
    engine.ask(method, *arguments)
    return engine.answer()


def test_an_engine_answers(engine: EngineProcess) -> None:
    heard = engine.hear(SEGMENT, "number")
    assert (heard.text, heard.engine, heard.start, heard.end) == ("number", "fake", 1.0, 2.0)


def test_questions_asked_in_a_row_are_answered_in_that_order(engine: EngineProcess) -> None:
    for grammar in ("entries", "breath"):
        engine.ask("hear", SEGMENT, grammar)
    assert [engine.answer().text for _ in range(2)] == ["entries", "breath"]


def test_an_answer_nobody_wants_any_more_is_not_taken_for_the_next(engine: EngineProcess) -> None:
    for grammar in ("entries", "breath"):
        engine.ask("hear", SEGMENT, grammar)
    engine.forget()
    engine.ask("hear", SEGMENT, "number")
    assert engine.answer().text == "number"
    engine.ask("refuse")
    engine.forget()
    assert ask(engine, "hear", SEGMENT, "asked") == engine.hear(SEGMENT, "asked")


def test_one_can_look_whether_an_answer_is_there_without_waiting(engine: EngineProcess, tmp_path: Path) -> None:
    engine.ask("hear", SEGMENT, "entries")
    engine.forget()
    awake = tmp_path / "awake"
    engine.ask("nap_until", awake)
    assert not engine.answered()
    awake.touch()
    assert engine.answer() == "awake"


def test_an_engine_that_died_meanwhile_makes_nobody_wait(engine: EngineProcess) -> None:
    engine.ask("die")
    engine._child.join()
    assert engine.answered()
    with pytest.raises(EngineError, match="exit code -9"):
        engine.answer()
    engine.restart()


@pytest.mark.parametrize("module", ["pytest", "pydantic", "click"])
def test_an_engine_holds_nothing_of_the_program_that_started_it(module: str, engine: EngineProcess) -> None:
    importlib.import_module(module)  # the program has it
    assert ask(engine, "imported", module) is False


@pytest.mark.parametrize("module", ["voice.engines.people", "voice.engines.vosk"])
def test_an_engine_needs_neither_definitions_nor_screens(module: str) -> None:
    """Each of its processes would hold them once more."""
    unwanted = "{'pydantic', 'log.definition.procedure', 'voice.phrases.phrases', 'textual'}"
    held = f"import sys, {module}; print(*{unwanted} & {{*sys.modules}})"
    done = subprocess.run([sys.executable, "-c", held], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


def test_what_an_engine_refuses_is_reported_with_its_remedy(engine: EngineProcess) -> None:
    with pytest.raises(EngineError) as caught:
        ask(engine, "refuse")
    assert (caught.value.problem, caught.value.remedy) == (REFUSAL.problem, REFUSAL.remedy)


def test_any_other_failure_is_reported_by_name(engine: EngineProcess) -> None:
    with pytest.raises(EngineError, match=r"the fake engine failed \(ZeroDivisionError: division by zero\)") as caught:
        ask(engine, "fail")
    assert caught.value.remedy


def test_a_question_the_engine_does_not_know_is_a_failure_like_any_other(engine: EngineProcess) -> None:
    with pytest.raises(EngineError, match="AttributeError"):
        ask(engine, "sing")


def test_an_engine_that_dies_at_work_is_reported_with_its_exit_code_and_starts_again(engine: EngineProcess) -> None:
    with pytest.raises(EngineError, match=r"the fake engine stopped \(exit code -9\)") as caught:
        ask(engine, "die")
    assert "\n" not in str(caught.value)

    engine.restart()

    assert ask(engine, "count") == 0


def test_an_engine_that_died_between_two_questions_is_reported_at_the_next(engine: EngineProcess) -> None:
    child = engine._child.pid
    assert child is not None
    os.kill(child, signal.SIGKILL)
    engine._child.join()
    with pytest.raises(EngineError, match="exit code -9"):
        engine.hear(SEGMENT, "entries")
    engine.restart()


def test_an_engine_that_hangs_is_reported_and_can_be_started_again(
    engine: EngineProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(engine_process, "ANSWER_SECONDS", 0.2)
        with pytest.raises(EngineError, match=r"gave no answer for 0\.2 s"):
            ask(engine, "hang")
    with pytest.raises(EngineError):  # no late answer can be taken for the answer to this
        engine.hear(SEGMENT, "entries")
    engine.restart()


def test_a_slow_engine_is_waited_for_as_long_as_its_sound_is_worth(
    engine: EngineProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(engine_process, "ANSWER_SECONDS", 0.05)
        assert ask(engine, "nap", 0.2, SEGMENT) == "awake"
        with pytest.raises(EngineError, match=r"gave no answer for 0\.05 s"):
            ask(engine, "nap", 0.2)
    engine.restart()


@pytest.mark.parametrize(
    ("spec", "told"),
    [
        (FakeSpec("refused"), "there is no model - add one"),
        (FakeSpec("failed"), "ZeroDivisionError"),
        (FakeSpec("dead"), "exit code 7"),
    ],
)
def test_an_engine_that_does_not_start_is_reported_while_waiting_for_it(spec: FakeSpec, told: str) -> None:
    with closing(EngineProcess(spec)) as engine, pytest.raises(EngineError, match=told):
        engine.wait()


def test_an_engine_may_be_closed_twice_and_answers_no_more() -> None:
    engine = EngineProcess(FakeSpec())
    engine.close()
    engine.close()
    with pytest.raises(EngineError):
        engine.hear(SEGMENT, "entries")
    assert engine._child.exitcode is not None


def test_an_engine_that_is_killed_before_it_has_read_its_recipe_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    """A recipe is larger than what a pipe holds: handing it to a dead child must not wait for ever."""
    resource_tracker.ensure_running()
    spawn = util.spawnv_passfds

    def killed_at_once(*arguments: Any) -> int:
        child = spawn(*arguments)
        os.kill(child, signal.SIGKILL)
        return child

    monkeypatch.setattr(util, "spawnv_passfds", killed_at_once)
    with closing(EngineProcess(FakeSpec(recipe=bytes(1_000_000)))) as engine, pytest.raises(EngineError, match="-9"):
        engine.wait()
