"""A microphone without hardware: a sound server of our own, in a folder of its own, that hears what is played to it.

It can be pulled out and put back, and the whole server can be killed. It touches no other sound on the machine.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping
from ctypes.util import find_library
from pathlib import Path

import pytest

SPEAKER, MICROPHONE = "room", "room-microphone"
TOOLS = ("pulseaudio", "pactl", "pacat", "paplay")
INSTALL = "apt-get install pulseaudio pulseaudio-utils libasound2-plugins libportaudio2"
PATIENCE = 10.0
"""Seconds in which the server has to answer."""


class VirtualMicrophone:
    """One server with a sink that is played to and a source that hears it; it is the default device of both kinds."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._socket = folder / "socket"
        self._server: subprocess.Popen[bytes] | None = None
        self._player: subprocess.Popen[bytes] | None = None
        self._sink = ""
        for name in ("run", "home"):
            (folder / name).mkdir(mode=0o700)
        settings = "pcm.!default { type pulse }\nctl.!default { type pulse }\n"
        (folder / "home" / ".asoundrc").write_text(settings, encoding="utf-8")

    @property
    def environment(self) -> Mapping[str, str]:
        """For a child process that is to hear it, with device "pulse" or none."""
        return os.environ | {
            "XDG_RUNTIME_DIR": str(self._folder / "run"),
            "HOME": str(self._folder / "home"),
            "PULSE_SERVER": f"unix:{self._socket}",
            "TAMPONADE_SILENT": "1",  # the microphone hears whatever is played
        }

    def restart_server(self) -> None:
        """Starts the server, with the microphone in it."""
        self._socket.unlink(missing_ok=True)
        self._server = subprocess.Popen(
            [
                *("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"),
                *("-L", f"module-native-protocol-unix auth-anonymous=1 socket={self._socket}"),
            ],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        deadline = time.monotonic() + PATIENCE
        while subprocess.run(["pactl", "info"], env=self.environment, capture_output=True, check=False).returncode:
            if time.monotonic() > deadline:
                pytest.skip("a sound server of our own does not start on this machine")
            time.sleep(0.05)
        self.put_back()

    def kill_server(self) -> None:
        """The server is gone, without a word."""
        for process in (self._server, self._player):
            if process is not None:
                process.kill()
                process.wait()
        self._server = self._player = None

    def pull(self) -> None:
        """The microphone is pulled out, and with it the sink: else the server would let its listeners hear that."""
        self._control("unload-module", self._sink)
        if self._player is not None:
            self._player.wait(timeout=PATIENCE)

    def put_back(self) -> None:
        """The microphone is plugged in."""
        self._sink = self._control(
            "load-module", "module-null-sink", f"sink_name={SPEAKER}", "rate=16000", "channels=1", "format=s16le"
        )
        self._control("load-module", "module-remap-source", f"master={SPEAKER}.monitor", f"source_name={MICROPHONE}")
        self._control("set-default-source", MICROPHONE)
        self._control("set-default-sink", SPEAKER)
        # Without something that plays all the time the sink falls asleep, and the first sound comes seconds late.
        raw = ("--raw", "--rate=16000", "--channels=1", "--format=s16le", "--latency-msec=20")
        self._player = subprocess.Popen(
            ["pacat", "--playback", f"--device={SPEAKER}", *raw, "/dev/zero"],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def play(self, wav: Path) -> None:
        """Plays a sound file into the room; returns when it was played."""
        command = ["paplay", f"--device={SPEAKER}", str(wav)]
        subprocess.run(command, env=self.environment, check=True, timeout=60, capture_output=True)

    def _control(self, *arguments: str) -> str:
        done = subprocess.run(
            ["pactl", *arguments], env=self.environment, check=True, timeout=PATIENCE, capture_output=True, text=True
        )
        return done.stdout.strip()


@contextlib.contextmanager
def virtual_microphone() -> Iterator[VirtualMicrophone]:
    """A running one; skips the test where the tools for it are missing."""
    missing = [tool for tool in TOOLS if shutil.which(tool) is None]
    missing += [] if find_library("portaudio") else ["libportaudio2"]
    if missing:
        pytest.skip(f"no virtual microphone without {', '.join(missing)}: {INSTALL}")
    with tempfile.TemporaryDirectory(prefix="tamponade-") as folder:  # short: a socket's path has to be
        microphone = VirtualMicrophone(Path(folder))
        microphone.restart_server()
        try:
            yield microphone
        finally:
            microphone.kill_server()
