"""A source of sound, the case it goes into, and whoever watches: on the room's screen, or in plain lines."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.scribe.session import Session
from tui.live.ears_to_come import Hearer
from tui.live.listening import LiveCase
from tui.live.rehearsal import ENDED, Rehearsal, Ticking
from tui.live.view import LiveSource, Mode, View
from tui.live.writing import LOOK_SECONDS
from tui.room.plain import PlainRoom
from voice.phrases.phrases import Phrases
from voice.sound.audio import AudioFile

if TYPE_CHECKING:
    from voice.sound.microphone import Microphone


def ready(audio: Path | None, device: str | None, speak: bool) -> LiveSource:
    """The source, once it is known that it and what speaks are there: a start that fails leaves no case behind. Its
    noise is measured while one listens. Raises InputError, EngineError.
    """
    from voice.sound.portaudio import check_output, silenced

    with silenced():
        if speak:
            from voice.speak.speaker import check_voice

            check_voice()
            check_output()
        if audio is not None:
            recording = AudioFile(audio, paced=True)
            recording.check()
            return recording
        a_microphone(device).check()
        return a_microphone(device)


def a_microphone(device: str | None) -> Microphone:
    from voice.sound.microphone import Microphone

    return Microphone(device)


@dataclass(frozen=True, slots=True)
class InTheRoom:
    """A source of sound, the case it goes into, and how."""

    source: LiveSource
    session: Session
    ears: Hearer
    mode: Mode
    again: Callable[[], LiveSource] | None
    speak: bool
    rehearsal: Rehearsal | None = None
    """The rehearsal that is played meanwhile, in a case for training."""
    tones: bool = False
    """Whether short tones sound for what was logged, asked and found."""

    def shown_by(self, view: View) -> LiveCase:
        """With `speak`, what is heard is read back aloud, and the log is muted meanwhile. Raises EngineError."""
        if self.speak:
            from tui.live.aloud import Aloud
            from voice.speak.speaker import Speaker

            speaker = Speaker(
                on_begin=lambda: listening.mute(True),
                on_end=lambda: listening.mute(False),
                on_failure=view.failed,
            )
            view = Aloud(view, self.session, speaker)
        if self.tones:
            from tui.live.tones import Tones

            view = Tones(view)
        listening = LiveCase(self.source, self.session, self.ears, self.mode, view, self.again)
        return listening


def in_lines(hearing: InTheRoom, watching: bool = False) -> None:
    """Plain lines, until the source ends, somebody ends it, or the rehearsal is over."""
    somebody_types = sys.stdin.isatty()
    view = PlainRoom(hearing.session, stays=somebody_types and hearing.again is not None)
    listening = hearing.shown_by(view)
    view.now = lambda: listening.time
    playing = Ticking(listening, hearing.rehearsal, view.ended.set)
    view.start(f"Tamponade log: listening to {visible(hearing.source.name)}")
    if watching:
        view.typed("due", listening)
    why = "ended by the operator"
    try:
        for stop in _ENDING:
            signal.signal(stop, _interrupted)
        listening.start()
        playing.start()
        if somebody_types:
            threading.Thread(target=_typed, args=(view, listening), name="typing", daemon=True).start()
        looked = time.monotonic()
        while not view.ended.wait(0.2):
            if time.monotonic() - looked >= LOOK_SECONDS:
                looked = time.monotonic()
                view.look()
        over = hearing.rehearsal is not None and hearing.rehearsal.over(hearing.session)
        why = ENDED if over else "end of the recording"
    except KeyboardInterrupt:
        why = "ended by the operator"
    except BaseException:
        why = "the program failed"
        raise
    finally:
        playing.stop()
        listening.stop(why)
    view.end()


def _typed(view: PlainRoom, listening: LiveCase) -> None:
    """Hands each line to the room. Reads below Python's own buffer: a thread that waits in that hangs the end."""
    rest = b""
    while read := os.read(sys.stdin.fileno(), 4096):
        *lines, rest = (rest + read).split(b"\n")
        for line in lines:
            try:
                view.typed(line.decode(errors="replace"), listening)
            except TamponadeError as error:
                view.failed(error)


_ENDING = [signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]


def _interrupted(*_: object) -> None:
    raise KeyboardInterrupt


def on_a_screen(hearing: InTheRoom, phrases: Phrases, scribe: str, watching: bool = False, light: bool = False) -> None:
    """The room's screen, until somebody leaves it."""
    from tui.live.playing import Playing
    from tui.room.app import RoomApp
    from voice.sound.portaudio import silenced

    played = Playing(
        on_begin=lambda: listening.mute(True, "line"),
        on_end=lambda: listening.mute(False, "line"),
        on_failure=lambda error: app.view.failed(error),
    )
    app = RoomApp(hearing.session, phrases, scribe, played, watching=watching, light=light)
    app.listening = listening = hearing.shown_by(app.view)
    playing = Ticking(listening, hearing.rehearsal, app.view.rehearsal_over)
    playing.start()
    why = "the screen failed"
    try:
        with silenced():
            app.run()
        why = app.why_ended
    finally:
        played.close()
        playing.stop()
        listening.stop(why)
    if app.return_code:
        sys.exit(app.return_code)
