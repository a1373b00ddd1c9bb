"""The room is listened to: a microphone, or a recording played as one, on the big screen or in plain lines."""

from __future__ import annotations

import contextlib
import signal
import sys
import threading
from pathlib import Path

import click

from log import store
from log.errors import EngineError
from log.events import KeepSound
from log.load import load
from log.visible import visible
from tui.listening import Listening, LiveSource, Mode, View
from tui.options import (
    cases_option,
    definition_option,
    ears,
    engine_option,
    keeping_options,
    lead_word_option,
    local_option,
)
from tui.plain import PlainRoom
from tui.session import Keeping, Session, open_case, procedure_of
from voice.audio import AudioFile
from voice.listener import Ears, EngineChoice
from voice.phrases import Phrases, compile_phrases
from voice.recogniser import SAMPLE_RATE

MODES: dict[str, Mode] = {"lead": "lead word", "key": "push to talk", "open": "open"}


@click.command("listen", short_help="Listen to the room: big read-back, and a table for the scribe.")
@click.option("--audio", type=click.Path(path_type=Path), metavar="FILE", help="Play a recording as if it were heard.")
@click.option("--device", metavar="NAME", help="The microphone, by number or part of its name; see: tamponade devices.")
@click.option(
    "--mode",
    type=click.Choice(list(MODES)),
    default="lead",
    show_default=True,
    help="lead: an entry begins with the lead word; key: while the talk key is held; open: everything counts.",
)
@click.option("--case", "name", metavar="ID", help="Go on with this case, or give the new one this name.")
@click.option("--scribe", default="scribe", show_default=True, metavar="WHO", help="Who types corrections.")
@click.option("--plain", is_flag=True, help="Plain lines instead of the screen: for screen readers and bare terminals.")
@click.option("--speak", is_flag=True, help="Read back aloud (needs espeak-ng). The log is deaf meanwhile.")
@definition_option
@local_option
@cases_option
@lead_word_option("log")
@engine_option
@keeping_options
def command(
    audio: Path | None,
    device: str | None,
    mode: str,
    name: str | None,
    scribe: str,
    plain: bool,
    speak: bool,
    definition: str,
    local: Path | None,
    cases: Path | None,
    lead_word: str | None,
    engine: EngineChoice,
    label: str,
    author: str,
    keep_sound: KeepSound,
    encrypt: bool,
) -> None:
    """Listen to the room and keep the case: on a microphone, or on the recording --audio.

    Closing the terminal, Ctrl-C or a crash lose nothing: --case ID goes on where it was.
    """
    if not plain and not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise click.UsageError("this is no terminal; use --plain")
    source = _source(audio, device)
    in_force, folder = load(definition, local), store.cases_folder(cases)
    phrases = compile_phrases(procedure_of(folder, name, in_force))
    with ears(phrases, lead_word if mode == "lead" else None, engine) as listening_ears:
        keeping = Keeping(author, label, keep_sound, encrypt)
        session = open_case(folder, name, in_force, source.name, keeping)
        if plain:
            _in_lines(source, session, listening_ears, MODES[mode], speak)
        else:
            _on_a_screen(source, session, listening_ears, MODES[mode], phrases, scribe, speak)
    click.echo(visible(f"case {session.case.path.stem} is closed: {session.case.path}"))


def _source(audio: Path | None, device: str | None) -> LiveSource:
    if audio is not None:
        recording = AudioFile(audio, paced=True)
        recording.check()
        return recording
    from voice.microphone import Microphone

    return Microphone(device)


def _listening(source: LiveSource, session: Session, ears: Ears, mode: Mode, view: View, speak: bool) -> Listening:
    """With `speak`, what is heard is read back aloud, and the log is deaf meanwhile. Raises EngineError."""
    if not speak:
        return Listening(source, session, ears, mode, view)
    from tui.aloud import Aloud
    from voice.speaker import Speaker

    speaker = Speaker(
        on_begin=lambda: listening.deaf(True), on_end=lambda: listening.deaf(False), on_failure=view.failed
    )
    listening = Listening(source, session, ears, mode, Aloud(view, session, speaker))
    return listening


def _in_lines(source: LiveSource, session: Session, ears: Ears, mode: Mode, speak: bool) -> None:
    view = PlainRoom(session)
    listening = _listening(source, session, ears, mode, view, speak)
    view.start(f"Tamponade log: listening to {visible(source.name)}")
    why = "ended by the operator"
    try:
        for stop in _ENDING:
            signal.signal(stop, _interrupted)
        listening.start()
        while not view.ended.wait(0.2):
            pass
        why = "end of the recording"
    except KeyboardInterrupt:
        why = "ended by the operator"
    except BaseException:
        why = "the program failed"
        raise
    finally:
        listening.stop(why)
    view.end()


_ENDING = [signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]


def _interrupted(*_: object) -> None:
    raise KeyboardInterrupt


def _played(flac: bytes) -> None:
    """Plays a sound to the scribe, beside everything else; where nothing can play, nothing is heard."""
    from voice.audio import sound_of
    from voice.portaudio import play

    def run() -> None:
        with contextlib.suppress(EngineError):
            play(sound_of(flac), SAMPLE_RATE, threading.Event())

    threading.Thread(target=run, name="playing", daemon=True).start()


def _on_a_screen(
    source: LiveSource, session: Session, ears: Ears, mode: Mode, phrases: Phrases, scribe: str, speak: bool
) -> None:
    from tui.room.app import RoomApp
    from voice.portaudio import silenced

    app = RoomApp(session, phrases, scribe, _played)
    app.listening = _listening(source, session, ears, mode, app, speak)
    why = "the screen failed"
    try:
        with silenced():
            app.run()
        why = app.why_ended
    finally:
        app.listening.stop(why)
    if app.return_code:
        sys.exit(app.return_code)
