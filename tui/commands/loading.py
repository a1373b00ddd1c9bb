"""The ears of a definition are loaded while somebody still reads the first screen, or already speaks."""

from __future__ import annotations

import os
from concurrent.futures import Future, ThreadPoolExecutor
from multiprocessing import resource_tracker

from log.definition.procedure import Procedure
from tui.commands.options import ears
from voice.meaning.ears import Ears, EngineChoice
from voice.phrases.phrases import Phrases, compile_phrases


class Loading:
    """The ears of a definition, loaded while somebody reads. Use as a context manager."""

    def __init__(self, lead_word: str | None, engine: EngineChoice, quiet: bool) -> None:
        """`quiet`: notes on the choice of engines are not printed."""
        self._lead_word, self._engine, self._quiet = lead_word, engine, quiet
        self._at_work = ThreadPoolExecutor(1, "loading")
        self._begun: tuple[Procedure, Phrases, Future[Ears]] | None = None

    def begin(self, procedure: Procedure) -> tuple[Phrases, Future[Ears]]:
        """What can be said, and the ears to come. The process that looks after processes is started here: under a
        screen, which takes standard error away, it cannot be."""
        if os.name == "posix":
            resource_tracker.ensure_running()
        phrases = compile_phrases(procedure)
        coming = self._at_work.submit(ears, phrases, self._lead_word, self._engine, self._quiet)
        self._begun = procedure, phrases, coming
        return phrases, coming

    def begun(self, procedure: Procedure) -> tuple[Phrases, Future[Ears]]:
        """Those of this definition; if others were begun, they begin anew."""
        if self._begun is not None and self._begun[0] == procedure:
            return self._begun[1:]
        self._close()
        return self.begin(procedure)

    def __enter__(self) -> Loading:
        return self

    def __exit__(self, *_: object) -> None:
        self._close()
        self._at_work.shutdown()

    def _close(self) -> None:
        """Closes what was loaded, once it is."""
        begun, self._begun = self._begun, None
        if begun is not None and begun[2].exception() is None:
            begun[2].result().close()
