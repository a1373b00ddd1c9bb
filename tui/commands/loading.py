"""The ears of a definition are loaded while somebody still reads the first screen."""

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

    def __init__(self, lead_word: str | None, engine: EngineChoice) -> None:
        self._lead_word, self._engine = lead_word, engine
        self._at_work = ThreadPoolExecutor(1, "loading")
        self._begun: tuple[Procedure, Future[tuple[Phrases, Ears]]] | None = None

    def begin(self, procedure: Procedure) -> None:
        """Loads them; returns at once. The process that looks after processes is started here: under a screen, which
        takes standard error away, it cannot be."""
        if os.name == "posix":
            resource_tracker.ensure_running()
        self._begun = procedure, self._at_work.submit(self._load, procedure)

    def loaded(self, procedure: Procedure) -> tuple[Phrases, Ears]:
        """Those of this definition; if others were begun, it takes as long again. Raises EngineError."""
        if self._begun is None or self._begun[0] != procedure:
            self._close()
            self.begin(procedure)
        assert self._begun is not None
        return self._begun[1].result()

    def __enter__(self) -> Loading:
        return self

    def __exit__(self, *_: object) -> None:
        self._close()
        self._at_work.shutdown()

    def _load(self, procedure: Procedure) -> tuple[Phrases, Ears]:
        phrases = compile_phrases(procedure)
        return phrases, ears(phrases, self._lead_word, self._engine)

    def _close(self) -> None:
        """What was loaded, as soon as it is."""
        begun, self._begun = self._begun, None
        if begun is not None and begun[1].exception() is None:
            begun[1].result()[1].close()
