"""The program as it is, that notes in a file when each stage of an utterance was reached. For `tests.bench.live`.

    python -m tests.bench.stamped FILE listen ...

A stage is a line: its name and the moment, in seconds of a clock that all processes of the machine share.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import Any, TextIO

from log.scribe.session import Session
from tui.cli import main
from tui.live.listening import LiveCase
from voice.meaning.ears import Ears


def stamp(file: TextIO) -> None:
    """`over`: the endpoint says that somebody has spoken; `known`: what it was; `kept`: what follows is on disk."""
    LiveCase._heard = _noted(file, "over", LiveCase._heard, before=True)  # type: ignore[method-assign]
    Ears.hear = _noted(file, "known", Ears.hear)  # type: ignore[method-assign]
    Session.take = _noted(file, "kept", Session.take)  # type: ignore[method-assign]


def _noted(file: TextIO, stage: str, method: Callable[..., Any], before: bool = False) -> Callable[..., Any]:
    def noted(*arguments: Any) -> Any:
        if before:
            file.write(f"{stage} {time.monotonic()}\n")
        result = method(*arguments)
        if not before:
            file.write(f"{stage} {time.monotonic()}\n")
        return result

    return noted


if __name__ == "__main__":
    with open(sys.argv.pop(1), "a", buffering=1, encoding="utf-8") as stages:  # noqa: PTH123
        stamp(stages)
        main()
