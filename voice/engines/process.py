"""A speech engine alone in its own process: decoding in the program's own process would stop everything else, and an
engine that crashes must not take the log with it.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
import sys
from collections import deque
from collections.abc import Iterator
from multiprocessing.connection import Connection
from types import ModuleType
from typing import Any, Protocol

from log.basics.errors import EngineError, TamponadeError
from voice.engines.protocol import Utterance
from voice.engines.vosk_cache import forget_those_of
from voice.sound.segment import Segment

ANSWER_SECONDS = 60.0
"""An engine that takes longer over one segment has hung, unless the segment is long."""

SECONDS_A_SECOND = 2.0
"""The same for each second of sound: minutes of talk without a break are one segment."""

REMEDY = "start it again; if it happens again, choose another --engine"


class EngineSpec(Protocol):
    """A recipe for an engine; it travels to the child process, the engine never does."""

    @property
    def name(self) -> str:
        """Name of the engine."""
        ...

    def build(self) -> object:
        """Makes the engine; called in the child."""
        ...


class EngineProcess:
    """An engine in a child process. It starts at once; call `wait` before the first question."""

    def __init__(self, spec: EngineSpec) -> None:
        self.name = spec.name
        self._spec = spec
        self._pipe, self._child = _start(spec)
        self._to_come = deque([True])
        """For each answer that is still to come, in order, whether anybody wants it. The first says: ready."""
        self._sound = 0.0
        """Seconds of the longest sound that an answer is still to come for."""

    def wait(self) -> None:
        """Returns when the engine is ready; raises EngineError if it cannot be built."""
        self.answer()

    def hear(self, segment: Segment, grammar: str, closely: bool = True) -> Utterance:
        """Decodes one segment; raises EngineError if the engine fails, dies or hangs."""
        self.ask("hear", segment, grammar, closely)
        heard = self.answer()
        assert isinstance(heard, Utterance)
        return heard

    def ask(self, method: str, *arguments: object) -> None:
        """Sends a question without waiting, so that several engines can work at once."""
        with self._told():
            self._pipe.send((method, arguments))
        seconds = max((each.seconds for each in arguments if isinstance(each, Segment)), default=0.0)
        self._sound = max(seconds, self._sound if self._to_come else 0.0)
        self._to_come.append(True)

    def answer(self) -> Any:
        """Waits for the answer to the first question that is still wanted."""
        with self._told():
            while not self._to_come.popleft():
                self._next()
            answer = self._next()
        if isinstance(answer, TamponadeError):
            raise answer
        return answer

    def answered(self) -> bool:
        """Whether `answer` would not have to wait: it is there, or the engine is gone."""
        try:
            while self._pipe.poll():
                if self._to_come[0]:
                    return True
                self._to_come.popleft()
                self._pipe.recv()
        except (EOFError, OSError):
            return True
        return False

    def forget(self) -> None:
        """Nobody wants the answers to what was asked until now. Does not wait."""
        self._to_come = deque([False] * len(self._to_come))

    def _next(self) -> Any:
        longest = max(ANSWER_SECONDS, SECONDS_A_SECOND * self._sound)
        if not self._pipe.poll(longest):
            self.close()  # an answer that came late would be taken for the answer to the next question
            raise EngineError(f"the {self.name} engine gave no answer for {longest:g} s", REMEDY)
        return self._pipe.recv()

    def restart(self) -> None:
        """Ends the child, whatever state it is in, and waits for another."""
        self.close()
        self._pipe, self._child = _start(self._spec)
        self._to_come = deque([True])
        self.wait()

    def close(self) -> None:
        """Ends the child; may be called twice."""
        self._pipe.close()
        self._child.terminate()
        self._child.join(timeout=2)
        if self._child.is_alive():
            self._child.kill()
            self._child.join()
        if self._child.pid is not None:
            forget_those_of(self._child.pid)

    @contextlib.contextmanager
    def _told(self) -> Any:
        try:
            yield
        except (EOFError, OSError):
            self._child.join(timeout=1)
            code = self._child.exitcode
            raise EngineError(f"the {self.name} engine stopped (exit code {code})", REMEDY) from None


def _start(spec: EngineSpec) -> tuple[Connection, multiprocessing.process.BaseProcess]:
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    child = context.Process(target=_serve, args=(spec.name, theirs), name=f"tamponade-{spec.name}", daemon=True)
    with _without_the_program():
        child.start()
    theirs.close()
    with contextlib.suppress(OSError):  # it is dead already: whoever waits for its first answer gets the error
        ours.send(spec)  # no argument: handing over one as large as this waits for ever for a child that was killed
    return ours, child


@contextlib.contextmanager
def _without_the_program() -> Iterator[None]:
    """A spawned child imports what the parent was started as, the whole command line. No engine needs it in memory."""
    program = sys.modules["__main__"]
    sys.modules["__main__"] = ModuleType("__main__")
    try:
        yield
    finally:
        sys.modules["__main__"] = program


def _serve(name: str, pipe: Connection) -> None:
    """The child: builds the engine, then answers until the parent is gone. Interrupts are the parent's business."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with contextlib.suppress(EOFError, OSError):
        try:
            engine = pipe.recv().build()
        except Exception as error:
            pipe.send(_as_told(name, error))
            return
        pipe.send("ready")
        while True:
            method, arguments = pipe.recv()
            pipe.send(_answered(engine, name, method, arguments))


def _answered(engine: object, name: str, method: str, arguments: tuple[object, ...]) -> object:
    try:
        return getattr(engine, method)(*arguments)
    except Exception as error:
        return _as_told(name, error)


def _as_told(name: str, error: Exception) -> TamponadeError:
    if isinstance(error, TamponadeError):
        return error
    return EngineError(f"the {name} engine failed ({type(error).__name__}: {error})", REMEDY)
