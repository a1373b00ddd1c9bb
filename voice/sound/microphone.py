"""The room's microphone as a source of frames, and the truth about when it heard nothing.

A microphone is unplugged, a sound system dies, a machine is too busy: whoever reads the log has to know that nothing
was heard then. So every loss is reported when it begins and when it is over, the clock runs on through it, and the
microphone is sought until it is back.
"""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from log.basics.errors import EngineError
from voice.sound.audio import Frame
from voice.sound.portaudio import OpenStream, Stream, open_input
from voice.sound.reception import Back, Block, Lost, Reception

__all__ = ["Back", "Lost", "Microphone"]

PATIENCE = 0.6
"""Seconds without a block after which sound counts as lost: blocks come every 0.03 s, on a busy machine in bursts."""

RETRY = 1.0
"""Seconds between attempts to open it again, and for which a stream that only pauses is left alone."""

STARTING = 3.0
"""Seconds in which a stream that was opened has to give its first block; some sound systems need two to wake up."""

CLOSING = 1.0
"""Seconds for which `close` waits for an attempt to open."""

STOPPED = "the microphone stopped: unplugged, or the sound system ended"
SILENT = f"no sound came from the microphone for {PATIENCE:g} s"
REOPENED = "the microphone was opened anew"


@dataclass(frozen=True, slots=True)
class _Ended:
    """A stream came to its end, or says nothing."""

    run: int
    reason: str
    again_in: float = 0.0
    """Seconds until it is worth opening anew."""


class Microphone:
    """A microphone, by number, name or part of a name; None: the default one. Listened to once, by one thread."""

    def __init__(
        self,
        device: str | None = None,
        open_stream: OpenStream = open_input,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._device = device
        self._open_stream = open_stream
        self._clock = clock
        self._name = device or "default microphone"
        self._came: queue.SimpleQueue[Block | _Ended | None] = queue.SimpleQueue()
        self._lock = threading.Lock()
        self._stream: Stream | None = None
        self._run = 0
        self._closed = threading.Event()
        self._heard = threading.Event()
        self._seeker = threading.Thread()

    @property
    def name(self) -> str:
        """The device, for the record."""
        return self._name

    def __enter__(self) -> Microphone:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def frames(self) -> Iterator[Frame | Lost | Back]:
        """Frames until `close`, and between them what was lost.

        `first_sample` counts from the moment of the first call of `next`, lost time included. Raises EngineError if
        the microphone cannot be opened at first; later on it is sought for ever.
        """
        reception = Reception(self._clock())
        try:
            self._open()
            while (came := self._next(None if reception.lost else PATIENCE if reception.run else STARTING)) is not None:
                if came.run != self._run:
                    continue  # of a stream that was given up
                if isinstance(came, Block):
                    self._heard.set()
                    if came.run != reception.run and reception.receiving:
                        yield from reception.lose(REOPENED)
                    yield from reception.take(came)
                elif not reception.lost:
                    yield from reception.lose(came.reason)
                    self._seek(came.again_in)
            yield from reception.end()
        finally:
            self.close()

    def check(self) -> None:
        """Opens the microphone and closes it again. Raises EngineError if it cannot be opened."""
        stream = self._open_stream(self._device, lambda *_: None, lambda: None)
        self._name = stream.name
        stream.close()

    def close(self) -> None:
        """Ends `frames`, from whichever thread; may be called twice."""
        self._closed.set()
        self._came.put(None)
        self._heard.set()
        with self._lock:  # whoever closes it too returns only when it is closed: a program that ends before that hangs
            stream, self._stream = self._stream, None
            if stream is not None:
                stream.close()
        if self._seeker.is_alive():
            self._seeker.join(timeout=CLOSING)  # the program must not end in the middle of an opening

    def _next(self, patience: float | None) -> Block | _Ended | None:
        """The next block; a stream that says nothing for so many seconds has ended."""
        try:
            return self._came.get(timeout=patience)
        except queue.Empty:
            return _Ended(self._run, SILENT, RETRY)

    def _open(self) -> None:
        """Opens the microphone in place of what was open. Raises EngineError."""
        with self._lock:
            self._run += 1
            run = self._run
            old, self._stream = self._stream, None
        if old is not None:
            old.close()

        def heard(pcm: bytes, rate: int, channels: int, overflowed: bool) -> None:
            self._came.put(Block(run, pcm, rate, channels, self._clock(), overflowed))

        stream = self._open_stream(self._device, heard, lambda: self._came.put(_Ended(run, STOPPED)))
        self._name = stream.name
        if self._device is not None:
            self._device = stream.name  # numbers change when something is plugged in
        with self._lock:
            late = self._closed.is_set()
            if not late:
                self._stream = stream
        if late:
            stream.close()

    def _seek(self, wait: float) -> None:
        """Has the microphone brought back. In a thread of its own: a sound system that is ill may let us wait."""
        self._heard = heard = threading.Event()
        self._seeker = threading.Thread(target=self._bring_back, args=(heard, wait), name="microphone", daemon=True)
        self._seeker.start()

    def _bring_back(self, heard: threading.Event, wait: float) -> None:
        while not heard.wait(wait) and not self._closed.is_set():
            try:
                self._open()
                wait = STARTING
            except EngineError:
                wait = RETRY
