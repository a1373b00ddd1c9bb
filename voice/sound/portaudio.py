"""The machine's microphones and loudspeaker. The only module that touches PortAudio; it is loaded when sound is wanted.

PortAudio sees devices that were plugged in later only when it is started anew, and that ends everything that is open.
So one lock guards it, and it is started anew only while nothing of ours is open.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from log.basics.errors import EngineError
from voice.sound.segment import SAMPLE_RATE

BLOCK_SECONDS = 0.03
"""One block of a microphone is one frame."""

WRITE_SECONDS = 0.1
"""Sound that is given to the loudspeaker at once: so soon does it stop when asked to."""

INSTALL = "type: sudo apt install libportaudio2   (macOS: brew install portaudio)"

_LOCK = threading.RLock()
_OPEN: set[object] = set()
"""Streams that a new start of PortAudio would end."""


@dataclass(frozen=True, slots=True)
class Device:
    """One microphone."""

    index: int
    name: str
    channels: int
    rate: int
    """Hertz, its own."""
    is_default: bool
    host_api: str
    """The sound system it belongs to."""


class Stream(Protocol):
    """A microphone that is open."""

    @property
    def name(self) -> str:
        """The name of the device."""
        ...

    @property
    def active(self) -> bool:
        """Whether it is still running, as far as the sound system knows."""
        ...

    def close(self) -> None:
        """No callback comes after this; may be called twice."""
        ...


Heard = Callable[[bytes, int, int, bool], None]
"""Takes a block: interleaved 16-bit samples, their rate, their channels, whether sound was lost before it."""

OpenStream = Callable[[str | None, Heard, Callable[[], None]], Stream]
"""Opens the named device, or the default one; blocks go to the first function, the end to the second."""


def devices() -> tuple[Device, ...]:
    """The microphones there are now; none is not an error. Raises EngineError without PortAudio."""
    with _LOCK:
        sound = _started_anew()
        systems = sound.query_hostapis()
        default = sound.default.device[0]
        return tuple(
            Device(
                index=index,
                name=str(found["name"]),
                channels=int(found["max_input_channels"]),
                rate=round(found["default_samplerate"]),
                is_default=index == default,
                host_api=str(systems[found["hostapi"]]["name"]),
            )
            for index, found in enumerate(sound.query_devices())
            if found["max_input_channels"] > 0
        )


def find(device: str | None, among: tuple[Device, ...]) -> Device:
    """The microphone of that number, name or part of a name; None: the default one. Raises EngineError."""
    if not among:
        raise EngineError("there is no microphone", "plug one in; tamponade devices lists what is there")
    if device is None:
        return next((found for found in among if found.is_default), among[0])
    wanted = device.casefold()
    for fits in (
        [found for found in among if str(found.index) == device],
        [found for found in among if found.name.casefold() == wanted],
        [found for found in among if wanted in found.name.casefold()],
    ):
        if len({found.name for found in fits}) == 1:
            return fits[0]  # the same device can be there once for every sound system
        if fits:
            break
    names = ", ".join(f'{found.index} "{found.name}"' for found in fits or among)
    problem = f'"{device}" could be several microphones' if fits else f'there is no microphone "{device}"'
    raise EngineError(problem, f"choose one of: {names}")


def open_input(device: str | None, heard: Heard, ended: Callable[[], None]) -> Stream:
    """Opens a microphone at 16 kHz mono, or at what it can do. Raises EngineError."""
    with _LOCK:
        chosen = find(device, devices())
        sound = _library()
        rate, channels = _possible(sound, chosen)

        def callback(block: Any, frames: int, moment: Any, status: Any) -> None:
            heard(bytes(block), rate, channels, bool(status))

        with _told(sound, f'the microphone "{chosen.name}" cannot be opened'):
            stream = sound.RawInputStream(
                samplerate=rate,
                blocksize=round(rate * BLOCK_SECONDS),
                device=chosen.index,
                channels=channels,
                dtype="int16",
                latency="low",
                callback=callback,
                finished_callback=ended,
            )
            opened = _Input(chosen.name, stream)
            try:
                stream.start()
            except sound.PortAudioError:
                opened.close()
                raise
        return opened


class _Input:
    """An open microphone of PortAudio's."""

    def __init__(self, name: str, stream: Any) -> None:
        self.name = name
        self._stream = stream
        _OPEN.add(self)

    @property
    def active(self) -> bool:
        return bool(self._stream.active)

    def close(self) -> None:
        with _LOCK:
            if self in _OPEN:
                _OPEN.discard(self)
                self._stream.abort()
                self._stream.close()


def check_output() -> None:
    """Raises EngineError if there is no loudspeaker."""
    with _LOCK:
        sound = _started_anew()
        if not any(found["max_output_channels"] > 0 for found in sound.query_devices()):
            raise EngineError("there is no loudspeaker", "plug one in, or go on without spoken read-back")


def play(pcm: bytes, rate: int, stop: threading.Event) -> None:
    """Plays 16-bit mono sound through the default loudspeaker; returns when the last of it was heard, or soon after
    `stop` is set. Raises EngineError.
    """
    sound = _library()
    token = object()
    with _told(sound, "the loudspeaker cannot be used"):
        with _LOCK:
            stream = sound.RawOutputStream(samplerate=rate, channels=1, dtype="int16")
            _OPEN.add(token)
        try:
            stream.start()
            step = 2 * round(rate * WRITE_SECONDS)
            for start in range(0, len(pcm), step):
                if stop.is_set():
                    stream.abort()
                    return
                stream.write(pcm[start : start + step])
            stream.stop()  # returns when everything was played
        finally:
            with _LOCK:
                stream.close()
                _OPEN.discard(token)


@contextlib.contextmanager
def silenced() -> Iterator[None]:
    """While this holds, only Python writes to standard error: sound libraries report every lost device there, from
    threads of their own, and that would lie across the screen.
    """
    kept = os.dup(2)
    streams = {name: getattr(sys, name) for name in ("stderr", "__stderr__")}
    with (
        os.fdopen(kept, "w", encoding="utf-8", errors="backslashreplace", buffering=1) as ours,
        Path(os.devnull).open("w") as nowhere,
    ):
        for name, stream in streams.items():
            if stream is not None and _is_standard_error(stream):
                stream.flush()
                setattr(sys, name, ours)
        os.dup2(nowhere.fileno(), 2)
        try:
            yield
        finally:
            ours.flush()
            os.dup2(kept, 2)
            for name, stream in streams.items():
                setattr(sys, name, stream)


def _is_standard_error(stream: Any) -> bool:
    try:
        return bool(stream.fileno() == 2)
    except (OSError, ValueError, AttributeError):  # somebody collects what is written
        return False


def _library() -> Any:
    try:
        import sounddevice
    except OSError:
        raise EngineError("PortAudio is not installed: microphone unavailable", INSTALL) from None
    return sounddevice


def _started_anew() -> Any:
    """The library with the devices of this moment, if nothing is open that would be ended by that."""
    sound = _library()
    if not _OPEN:
        with contextlib.suppress(sound.PortAudioError):  # it did not come up the last time
            sound._terminate()
        with _told(sound, "the sound system does not start"):
            sound._initialize()
    return sound


def _possible(sound: Any, device: Device) -> tuple[int, int]:
    """The rate and the channels nearest to what is wanted."""
    for rate, channels in ((SAMPLE_RATE, 1), (device.rate, 1), (SAMPLE_RATE, device.channels)):
        with contextlib.suppress(sound.PortAudioError):
            sound.check_input_settings(device=device.index, channels=channels, dtype="int16", samplerate=rate)
            return rate, channels
    return device.rate, device.channels


@contextlib.contextmanager
def _told(sound: Any, problem: str) -> Any:
    try:
        yield
    except sound.PortAudioError as error:
        said = str(error.args[0]) if error.args else "no reason given"
        raise EngineError(f"{problem} ({said})", "is it plugged in, and free? tamponade devices lists them") from None
