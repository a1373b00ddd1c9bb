"""Nothing leaves the machine: no command, and no process that it starts, looks up a host or opens a connection.

That our own code imports nothing that could is a contract in pyproject.toml.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

WATCH = """
import os, sys

OUTWARD = {"socket.connect", "socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr", "socket.sendto"}


def _note(event, arguments):
    if event in OUTWARD:
        with open(os.environ["OUTWARD"], "a") as log:
            log.write(f"{event}\\n")


sys.addaudithook(_note)
"""
"""As `sitecustomize` it runs at the start of every Python process, those of the engines included."""


@pytest.fixture
def outward(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The file in which every process that is started now notes what it does outward."""
    (tmp_path / "sitecustomize.py").write_text(WATCH, encoding="utf-8")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    monkeypatch.setenv("OUTWARD", str(tmp_path / "outward"))
    return tmp_path / "outward"


def test_a_lookup_in_another_process_is_noted(outward: Path) -> None:
    """The test below is worth something only if this one passes."""
    code = "import socket; socket.getaddrinfo('127.0.0.1', 9)"
    spawned = f"import subprocess, sys; subprocess.run([sys.executable, '-c', {code!r}], check=True)"
    subprocess.run([sys.executable, "-c", spawned], check=True)
    assert outward.read_text() == "socket.getaddrinfo\n"


@pytest.mark.slow
@pytest.mark.parametrize(
    "command",
    [
        "say --case bay-4 'gastric in five zero'; show bay-4; watch bay-4; verify bay-4; export bay-4 --out OUT",
        "models; procedures check; procedures phrases three-lumen; cases; models add https://models.example/small.zip",
        "hear CLIP",
    ],
)
def test_no_command_opens_a_connection(outward: Path, clip: Path, command: str) -> None:
    runs = command.replace("CLIP", str(clip)).replace("OUT", str(outward.parent / "written")).split("; ")
    program = "import shlex, sys; from tui.cli import tamponade\nfor run in sys.argv[1:]:\n" + (
        "    try: tamponade(shlex.split(run), standalone_mode=False)\n    except Exception as error: print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", program, *runs], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert done.stdout
    assert not outward.exists(), outward.read_text()
