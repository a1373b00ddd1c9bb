"""An engine that is slow is shown not to answer, long before anybody gives it up."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

SLOW_SECONDS = 3.0
"""An engine in order takes less than a second over an utterance."""

WHY = "a speech engine does not answer: type what is urgent"


@contextmanager
def shown_if_slow(show: Callable[[str], None]) -> Iterator[None]:
    """Has the room shown why, on another thread, if what is done meanwhile takes too long."""
    showing = threading.Timer(SLOW_SECONDS, show, (WHY,))
    showing.daemon = True
    showing.start()
    try:
        yield
    finally:
        showing.cancel()
