"""One thread writes: what is heard and what the scribe does reach the case through one queue, so that everything is on
disk in the order in which it came.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from concurrent.futures import Future

from log.basics.errors import StoreError, TamponadeError
from log.facts.events import Fact
from log.scribe.session import Session
from tui.live.view import View

Job = Callable[[Session], None]
Doing = Callable[[Session], tuple[Fact, ...]]
"""A task for the case, and its result."""

WRITE_SECONDS = 5.0
"""For which the scribe's screen waits for the disk."""

LOOK_SECONDS = 5.0
"""How often the clocks are looked at."""


class Writing:
    """The only one that touches the case, from `start` to `close`."""

    def __init__(self, session: Session, view: View, now: Callable[[], float]) -> None:
        """`now`: seconds on the session's clock."""
        self._session, self._view, self._now = session, view, now
        self._jobs: queue.SimpleQueue[Job | None] = queue.SimpleQueue()
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="writing", daemon=True)

    def start(self) -> None:
        """Begins to write."""
        self._thread.start()

    def run(self, job: Job) -> None:
        """Has this done after all that was asked for before. Returns at once."""
        self._jobs.put(job)

    def do(self, what: Doing) -> None:
        """Has something done; the view is notified of what came of it. Returns at once."""

        def run(session: Session) -> None:
            facts = what(session)
            if facts:
                self._view.notify(facts)

        self.run(run)

    def done(self, what: Doing) -> None:
        """The same, and returns when it is on disk. Raises what it raises, and StoreError if it takes too long."""

        def run(session: Session) -> None:
            self._view.notify(what(session))

        self._wait(run, StoreError("the case is slow to write", "check the log before you repeat it"))

    def close(self, why: str) -> None:
        """Closes the case after everything else and writes no more. Raises StoreError if that fails."""
        self._closing = True
        if not self._thread.is_alive():  # nothing was ever listened to
            self._session.close(self._now(), why)
            return
        slow = StoreError("the case is slow to close", "resume it later: --case ID")
        self._wait(lambda session: session.close(self._now(), why), slow, last=True)

    def _wait(self, job: Job, slow: StoreError, last: bool = False) -> None:
        outcome: Future[None] = Future()

        def run(session: Session) -> None:
            try:
                job(session)
            except Exception as error:
                outcome.set_exception(error)
            else:
                outcome.set_result(None)

        self.run(run)
        if last:
            self._jobs.put(None)
        try:
            outcome.result(timeout=WRITE_SECONDS)
        except TimeoutError:
            raise slow from None

    def _run(self) -> None:
        looked = self._now()
        while True:
            try:
                job = self._jobs.get(timeout=LOOK_SECONDS)
            except queue.Empty:
                job = self._look
            if job is None:
                return
            try:
                job(self._session)
                if self._now() - looked > LOOK_SECONDS and not self._closing:
                    looked = self._now()
                    self._look(self._session)
            except TamponadeError as error:
                self._view.failed(error)
            except Exception as error:  # whatever it was, the next entry has to be written
                self._view.failed(unexpected(error))

    def _look(self, session: Session) -> None:
        at = self._now()
        facts = (*session.save(session.time(at)), *session.look(at))
        if facts:
            self._view.notify(facts)


def unsaved(session: Session) -> str:
    """How much waits in memory because the disk does not take it, and why; "" if nothing does."""
    waiting = session.waiting
    return "" if waiting is None else f"{len(waiting.facts)} facts wait in memory: {waiting.why}"


def unexpected(error: Exception) -> TamponadeError:
    """A fault of the program, as the room is shown it."""
    return TamponadeError(
        f"an error in the program itself ({type(error).__name__}: {error})", "check that the last entry is in the log"
    )
