"""A headless browser that is told what to do through a pipe: it opens a page, runs scripts in it, takes pictures."""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from io import BufferedIOBase, RawIOBase
from pathlib import Path
from typing import Any, cast

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
QUIET = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
)
"""A browser that nobody sits at and that asks for as little as it can be made to."""


class Browser:
    """One page of it."""

    def __init__(self, into: RawIOBase, out: BufferedIOBase) -> None:
        self._into, self._out = into, out
        self._number = 0
        self._session: str | None = None
        pages = self.call("Target.getTargets")["targetInfos"]
        target = next(page["targetId"] for page in pages if page["type"] == "page")
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]

    def call(self, method: str, **parameters: object) -> dict[str, Any]:
        """One command, and what it came to."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session is not None:
            message["sessionId"] = self._session
        self._into.write(json.dumps(message).encode() + b"\0")
        while True:
            answer = json.loads(self._read())
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                return cast(dict[str, Any], answer["result"])

    def _read(self) -> bytes:
        read = bytearray()
        while (byte := self._out.read(1)) != b"\0":
            assert byte, "the browser has gone"
            read += byte
        return bytes(read)

    def open(self, address: str) -> None:
        """Goes to a page; it may still be loading when this returns."""
        self.call("Page.navigate", url=address)

    def run(self, script: str) -> Any:
        """The value of an expression in the page."""
        return self.call("Runtime.evaluate", expression=script, returnByValue=True)["result"].get("value")

    def text(self) -> str:
        """What there is to be read."""
        return str(self.run("document.body ? document.body.innerText : ''"))

    def wait(self, until: Callable[[], bool], seconds: float = 15.0) -> float:
        """Waits for something, and says how long."""
        began = time.monotonic()
        while not until():
            assert time.monotonic() - began < seconds, self.text()
            time.sleep(0.02)
        return time.monotonic() - began

    def window(self, width: int, height: int, scheme: str = "dark") -> None:
        """How large the page is, and whether it is dark."""
        self.call(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self.call("Emulation.setEmulatedMedia", features=features)

    def picture(self, path: Path, whole: bool = False) -> None:
        """What is seen in the window, or of the whole page, as PNG."""
        data = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=whole)["data"]
        path.write_bytes(base64.b64decode(data))


@contextmanager
def browser(folder: Path) -> Iterator[Browser]:
    """A browser with a profile of its own; the test is skipped where there is none."""
    if CHROMIUM is None:
        pytest.skip("there is no chromium on this machine")
    theirs_in, into = os.pipe()
    out, theirs_out = os.pipe()

    # the browser reads at 3 and writes at 4; a shell puts the pipes there
    plumbing = f'exec "$@" 3<&{theirs_in} 4>&{theirs_out}'
    command = [
        "bash",
        "-c",
        plumbing,
        "bash",
        CHROMIUM,
        *QUIET,
        "--remote-debugging-pipe",
        f"--user-data-dir={folder / 'profile'}",
        "about:blank",
    ]
    process = subprocess.Popen(
        command, pass_fds=(theirs_in, theirs_out), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    os.close(theirs_in)
    os.close(theirs_out)
    with os.fdopen(into, "wb", buffering=0) as telling, os.fdopen(out, "rb") as hearing:
        try:
            yield Browser(telling, hearing)
        finally:
            process.terminate()
            process.wait(timeout=20)
