"""A terminal that nobody sits at: the program runs in it as in any other, and its screen can be read."""

from __future__ import annotations

import contextlib
import shlex
import shutil
import subprocess
import time
from collections.abc import Iterator, Mapping, Sequence

import pytest


class Terminal:
    """One program in one tmux session of its own server."""

    def __init__(self, name: str) -> None:
        self._tmux = ("tmux", "-L", name)

    def run(self, command: Sequence[str], environment: Mapping[str, str], columns: int = 120, rows: int = 40) -> None:
        """Starts a program in it."""
        settings = [f"{key}={value}" for key, value in environment.items()]
        line = shlex.join(["env", "-i", *settings, *command])
        subprocess.run(
            [*self._tmux, "-f", "/dev/null", "new-session", "-d", "-x", str(columns), "-y", str(rows), line],
            check=True,
            env=dict(environment),
        )

    def screen(self) -> str:
        """What can be read now; "" if the program has ended."""
        done = subprocess.run([*self._tmux, "capture-pane", "-p"], capture_output=True, text=True, check=False)
        return done.stdout

    def press(self, *keys: str) -> None:
        """Presses keys, by tmux's names of them, as somebody who reads first."""
        time.sleep(0.35)
        subprocess.run([*self._tmux, "send-keys", *keys], check=True)

    def pid(self) -> int:
        """The program's process."""
        done = subprocess.run(
            [*self._tmux, "list-panes", "-F", "#{pane_pid}"], capture_output=True, text=True, check=True
        )
        return int(done.stdout)

    def wait_for(self, text: str, seconds: float) -> str:
        """Waits until this is on the screen, and gives the screen."""
        deadline = time.monotonic() + seconds
        while text not in (screen := self.screen()):
            assert time.monotonic() < deadline, f"{text!r} did not come within {seconds:g} s:\n{screen}"
            time.sleep(0.1)
        return screen

    def wait_without(self, text: str, seconds: float) -> str:
        """Waits until this is no longer on the screen, and gives the screen."""
        deadline = time.monotonic() + seconds
        while text in (screen := self.screen()):
            assert time.monotonic() < deadline, f"{text!r} is still there after {seconds:g} s:\n{screen}"
            time.sleep(0.1)
        return screen

    def wait_for_end(self, seconds: float) -> None:
        """Waits until the program has ended."""
        deadline = time.monotonic() + seconds
        while self.screen():
            assert time.monotonic() < deadline, f"it did not end within {seconds:g} s:\n{self.screen()}"
            time.sleep(0.1)

    def close(self) -> None:
        """Ends the session, whatever runs in it."""
        subprocess.run([*self._tmux, "kill-server"], check=False, capture_output=True)


@contextlib.contextmanager
def terminal(name: str) -> Iterator[Terminal]:
    """A fresh one; skips the test where there is no tmux."""
    if shutil.which("tmux") is None:
        pytest.skip("no terminal without tmux: apt-get install tmux")
    opened = Terminal(name)
    try:
        yield opened
    finally:
        opened.close()
