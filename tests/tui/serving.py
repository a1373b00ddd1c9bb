"""A case that is being written, the command that shows it, and a browser that only speaks HTTP."""

from __future__ import annotations

import http.client
import json
import re
import signal
import subprocess
import sys
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

from log.facts.origin import Origin
from log.scribe.opening import Keeping, open_case
from log.scribe.session import Session, wall_clock
from tests.cases import HOSTILE, definition
from voice.meaning.matcher import Listening, understand

SERVE = """
import tui.cli
tui.cli.COMMANDS = {"serve": ("serve:command", "")}
tui.cli.main()
"""
ASK = Origin(by="typed", author="scribe", heard="words")


def opened(folder: Path) -> Session:
    """A case that was opened a while ago and is being written."""
    began = wall_clock() - timedelta(minutes=20)
    keeping = Keeping(label=f"bed by the door {HOSTILE}")
    session = open_case(folder, "bay-4", definition()[0], "typed", keeping, now=began)
    say(session, 60, "tube passed")
    return session


def say(session: Session, at: float, words: str) -> None:
    asked = session.record.open_question is not None
    session.take(understand(definition()[1], words, Listening(question_open=asked)), at, at, ASK)


class Served:
    """The command in a process of its own, and a browser that only speaks HTTP."""

    def __init__(self, folder: Path, case: str = "bay-4") -> None:
        arguments = [sys.executable, "-c", SERVE, "serve", case, "--cases", str(folder)]
        self.process = subprocess.Popen(arguments, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        lines = [self.process.stdout.readline() for _ in range(3)]
        assert "Ctrl-C" in lines[2], lines
        self.address = lines[1].strip()
        found = re.fullmatch(r"http://127\.0\.0\.1:(\d+)(/\?token=[\w-]{40,})", self.address)
        assert found
        self.port, self.ticket, self.cookie = int(found[1]), found[2], ""
        self._open: list[http.client.HTTPConnection | http.client.HTTPResponse] = []

    def ask(
        self, path: str = "/", method: str = "GET", host: str = "", cookie: str | None = None
    ) -> tuple[http.client.HTTPResponse, str]:
        answer = self.begin(path, method, host, cookie)
        return answer, answer.read().decode()

    def begin(
        self, path: str = "/", method: str = "GET", host: str = "", cookie: str | None = None
    ) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        sent = {"Host": host or f"127.0.0.1:{self.port}", "Cookie": self.cookie if cookie is None else cookie}
        connection.request(method, path, headers=sent)
        answer = connection.getresponse()
        self._open += (answer, connection)
        return answer

    def enter(self) -> str:
        """Opens the printed address, keeps the cookie, and gives the page."""
        answer, page = self.ask(self.ticket)
        assert answer.status == 200
        self.cookie = (answer.headers["Set-Cookie"] or "").partition(";")[0]
        return page

    def end(self, by: signal.Signals = signal.SIGTERM) -> tuple[int, str]:
        self.process.send_signal(by)
        _, err = self.process.communicate(timeout=60)
        for left in self._open:
            left.close()
        return self.process.returncode, err


def event(answer: http.client.HTTPResponse) -> dict[str, Any]:
    """The next event."""
    while not (line := answer.readline()).startswith(b"data: "):
        assert line, "the events have ended"
    found = json.loads(line.removeprefix(b"data: "))
    assert isinstance(found, dict)
    return found


WITHIN = 30
"""Seconds for which something is waited for that comes within one on a machine that is not busy."""


def wait_for(answer: http.client.HTTPResponse, section: str, text: str) -> None:
    """Reads events until this stands in a section."""
    began = time.monotonic()
    while text not in event(answer)["sections"].get(section, ""):
        assert time.monotonic() - began < WITHIN
