"""Signals and hang-ups that end the room from outside, and how the log words them."""

from __future__ import annotations

import asyncio
import contextlib
import signal
from collections.abc import Callable

ENDINGS = {signal.SIGINT: "ended from outside", signal.SIGTERM: "ended from outside"}
if hasattr(signal, "SIGHUP"):
    ENDINGS[signal.SIGHUP] = "the terminal was closed"


def when_ended_from_outside(leave: Callable[[str], None]) -> None:
    """Has this called, with the reason, when the system asks the program to end."""
    loop = asyncio.get_running_loop()
    for stop, why in ENDINGS.items():
        with contextlib.suppress(NotImplementedError, RuntimeError, ValueError):  # not on every system
            loop.add_signal_handler(stop, leave, why)
