"""A speech engine alone in its own process: decoding in the program's own process would stop everything else, and an
engine that crashes must not take the log with it.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
from multiprocessing.connection import Connection
from typing import Any, Protocol

from log.errors import EngineError, TamponadeError
from voice.recogniser import Segment, Utterance

ANSWER_SECONDS = 60.0
"""An engine that takes longer over one segment has hung."""

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

    def answer(self) -> Any:
        """Waits for the answer to the last question."""
        with self._told():
            if not self._pipe.poll(ANSWER_SECONDS):
                self.close()  # an answer that came late would be taken for the answer to the next question
                raise EngineError(f"the {self.name} engine gave no answer for {ANSWER_SECONDS:g} s", REMEDY)
            answer = self._pipe.recv()
        if isinstance(answer, TamponadeError):
            raise answer
        return answer

    def restart(self) -> None:
        """Ends the child, whatever state it is in, and waits for another."""
        self.close()
        self._pipe, self._child = _start(self._spec)
        self.wait()

    def close(self) -> None:
        """Ends the child; may be called twice."""
        self._pipe.close()
        self._child.terminate()
        self._child.join(timeout=2)
        if self._child.is_alive():
            self._child.kill()
            self._child.join()

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
    child.start()
    theirs.close()
    with contextlib.suppress(OSError):  # it is dead already: whoever waits for its first answer is told
        ours.send(spec)  # no argument: handing over one as large as this waits for ever for a child that was killed
    return ours, child


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
