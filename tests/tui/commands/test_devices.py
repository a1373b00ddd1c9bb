"""The list of microphones, and the check that one hears the room."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator

import numpy as np
import pytest
from click.testing import CliRunner

from log.basics.errors import EngineError
from tests.voice.fake_sound import Clock, FakeSound, FakeStream
from tui.commands.devices import command
from tui.views.sound_check import bar, run_check
from voice.sound import microphone, portaudio
from voice.sound.audio import FRAME_BYTES, FRAME_SAMPLES, Frame
from voice.sound.microphone import Microphone
from voice.sound.portaudio import Device
from voice.sound.reception import Back, Lost
from voice.sound.sound_check import ADVICE, Level

FOUND = (
    Device(0, "Desk microphone", 1, 48_000, False, "one"),
    Device(4, "Head\x1bset", 2, 16_000, True, "one"),
)


def test_every_microphone_is_listed_with_what_it_can_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(portaudio, "devices", lambda: FOUND)
    done = CliRunner().invoke(command)
    assert done.exit_code == 0
    assert done.output.splitlines() == [
        "  0  Desk microphone  1 channel     48000 Hz  one",
        "  4  Head␛set         2 channels    16000 Hz  one  default",
    ]


def test_no_microphone_is_no_failure(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(portaudio, "devices", lambda: ())
    done = CliRunner().invoke(command)
    assert (done.exit_code, done.output) == (0, "There is no microphone. Plug one in and ask again.\n")


def test_without_portaudio_the_exit_code_is_that_of_engines(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing() -> None:
        raise EngineError("PortAudio is not installed", portaudio.INSTALL)

    monkeypatch.setattr(portaudio, "devices", missing)
    done = CliRunner().invoke(command)
    assert isinstance(done.exception, EngineError)
    assert done.exception.exit_code == 5
    assert "apt install libportaudio2" in str(done.exception)


def test_a_device_is_chosen_for_the_check_only() -> None:
    done = CliRunner().invoke(command, ["--device", "desk"])
    assert done.exit_code == 2


def test_the_check_is_led_through_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock()

    def say(stream: FakeStream) -> None:
        rng = np.random.default_rng(1)
        for place in range(300):
            clock.now += 0.03
            loud = 0.3 if 80 <= place < 140 else 0.001
            stream.say(rng.normal(0, loud, FRAME_SAMPLES).clip(-0.99, 0.99))

    sound = FakeSound(at_opening=say)
    monkeypatch.setattr(microphone, "Microphone", lambda device: Microphone(device, sound.open, clock))
    done = CliRunner().invoke(command, ["--check"])
    assert done.exit_code == 0, done.exception
    lines = done.output.splitlines()
    assert lines[0].startswith("Be silent")
    assert any(line.startswith("Now say") for line in lines)
    assert any(line.startswith("noise of the room") and "-60." in line for line in lines)
    assert lines[-1] == f"good: {ADVICE['good']}"
    assert not sound.streams[0].active


class Broken:
    """Sound that stops."""

    def frames(self) -> Iterator[Frame | Lost | Back]:
        yield Frame(bytes(FRAME_BYTES), 0)
        yield Lost(0.03, "unplugged")


def test_a_check_without_sound_breaks_off() -> None:
    said: list[str] = []
    with pytest.raises(EngineError, match="was interrupted: unplugged"):
        run_check(Broken(), said.append)
    assert len(said) == 2


def test_the_level_is_a_line_of_signs() -> None:
    assert bar(Level(0.0, 1.0, 3)) == "#" * 35 + "    0.0 dB TOO LOUD"
    assert bar(Level(-100.0, 0.0, 0)).strip() == "-100.0 dB"


def test_sound_libraries_are_silenced_and_python_is_not(capfd: pytest.CaptureFixture[str]) -> None:
    before = sys.stderr
    with portaudio.silenced():
        os.write(2, b"a library complains\n")
        print("Python tells", file=sys.__stderr__, flush=True)
    os.write(2, b"as before\n")
    assert sys.stderr is before
    assert capfd.readouterr().err == "Python tells\nas before\n"
