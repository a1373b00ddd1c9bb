"""The room is listened to: a microphone, or a recording played as one, on the big screen or in plain lines."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from multiprocessing import resource_tracker
from pathlib import Path
from typing import TYPE_CHECKING

import click

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.definition.load import InForce
from log.definition.procedure import Procedure
from log.facts.origin import KeepSound
from log.rules.definitions import load
from log.scribe.opening import (
    Keeping,
    Unfinished,
    check_free,
    forget_unused,
    open_case,
    procedure_of,
    unfinished,
)
from log.scribe.session import Session, wall_clock
from log.store.folder import cases_folder
from tui.commands.options import (
    cases_option,
    definition_option,
    ears,
    engine_option,
    keeping_options,
    lead_word_option,
    local_option,
    no_check_option,
    record_only_option,
)
from tui.live.listening import LiveCase
from tui.live.rehearsal import ENDED, Rehearsal, Ticking
from tui.live.view import LiveSource, Mode, View
from tui.live.writing import LOOK_SECONDS
from tui.room.plain import WAYS, PlainRoom
from tui.views.sound_check import run_check
from voice.meaning.ears import Ears, EngineChoice
from voice.phrases.phrases import Phrases, compile_phrases
from voice.sound.audio import AudioFile

if TYPE_CHECKING:
    from voice.sound.microphone import Microphone


@click.command("listen", short_help="Listen to the room: big read-back, and a table for the scribe.")
@click.option("--audio", type=click.Path(path_type=Path), metavar="FILE", help="Play a recording as if it were heard.")
@click.option("--device", metavar="NAME", help="The microphone, by number or part of its name; see: tamponade devices.")
@click.option(
    "--mode",
    type=click.Choice(list(WAYS)),
    default="lead",
    show_default=True,
    help="lead: an entry begins with the lead word; key: while the talk key is held; open: everything counts.",
)
@click.option("--case", "name", metavar="ID", help="Resume this case, or give the new one this name.")
@click.option("--new", is_flag=True, help="Begin a new case even if a tube is in.")
@click.option("--scribe", default="scribe", show_default=True, metavar="WHO", help="Who types corrections.")
@click.option("--plain", is_flag=True, help="Plain lines instead of the screen: for screen readers and bare terminals.")
@click.option("--watch", "watching", is_flag=True, help="Begin with the watch over a placed tube (key w).")
@click.option("--speak", is_flag=True, help="Read back aloud (needs espeak-ng). The log is muted meanwhile.")
@click.option("--light", is_flag=True, envvar="TAMPONADE_LIGHT", help="Dark on light. NO_COLOR leaves all colours out.")
@click.option("--silent", is_flag=True, envvar="TAMPONADE_SILENT", help="No tones for entries, questions and findings.")
@definition_option
@local_option
@record_only_option
@cases_option
@lead_word_option("log")
@engine_option
@keeping_options
@no_check_option
def command(
    audio: Path | None,
    device: str | None,
    mode: str,
    name: str | None,
    new: bool,
    scribe: str,
    plain: bool,
    watching: bool,
    speak: bool,
    light: bool,
    silent: bool,
    definition: str,
    local: Path | None,
    only_record: bool,
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
        raise click.UsageError("this is not a terminal; use --plain")
    in_force, folder = load(definition, local, only_record), cases_folder(cases)
    check_free(folder, name)
    found = unfinished(folder, wall_clock()) if not (new or name or audio or label or encrypt) else None
    source = ready(audio, device, speak)
    way: Mode = "open" if mode == "lead" and lead_word is None else WAYS[mode]
    with Loading(lead_word, engine) as loading:  # before the case: an engine that fails leaves none behind
        loading.begin(procedure_of(folder, found.name if found else name, in_force))
        if found is not None and goes_on(found, plain):
            name = found.name
        elif found is None and not (plain or name or audio):
            first_start(in_force, device)
        phrases, engines = loading.loaded(procedure_of(folder, name, in_force))
        unnamed = name is None
        session = open_case(folder, name, in_force, source.name, Keeping(author, label, keep_sound, encrypt))
        again = None if audio is not None else lambda: a_microphone(device)
        tones = audio is None and not (silent or speak)
        hearing = InTheRoom(source, session, engines, way, again, speak, tones=tones)
        if plain:
            in_lines(hearing, watching)
        else:
            on_a_screen(hearing, phrases, scribe, watching, light)
    if unnamed and forget_unused(session):
        click.echo("nothing was logged: no case is kept")
    else:
        click.echo(visible(f"case {session.case.path.stem} is closed: {session.case.path}"))


def first_start(in_force: InForce, device: str | None) -> None:
    """Microphone and local protocol, once on a machine."""
    from tui.room.first_start import FirstStart, remember_seen, seen_before
    from voice.sound.portaudio import silenced

    if seen_before():
        return
    remember_seen()
    with silenced(), a_microphone(device) as microphone:
        FirstStart(in_force, partial(run_check, microphone), microphone.close).run()


def goes_on(found: Unfinished, plain: bool) -> bool:
    """Whether somebody goes on with this case, or nobody says otherwise in time. Raises Abort for whoever leaves."""
    if plain:
        click.echo(visible(f"-- {found.in_words}: going on with it; --new begins another"))
        return True
    from tui.room.offer import Offer

    choice = Offer(found).run()
    if choice == "leave":
        raise click.Abort
    return choice != "new"


class Loading:
    """The ears of a definition, loaded while somebody reads. Use as a context manager."""

    def __init__(self, lead_word: str | None, engine: EngineChoice) -> None:
        self._lead_word, self._engine = lead_word, engine
        self._at_work = ThreadPoolExecutor(1, "loading")
        self._begun: tuple[Procedure, Future[tuple[Phrases, Ears]]] | None = None

    def begin(self, procedure: Procedure) -> None:
        """Loads them; returns at once. The process that looks after processes is started here: under a screen, which
        takes standard error away, it cannot be."""
        if os.name == "posix":
            resource_tracker.ensure_running()
        self._begun = procedure, self._at_work.submit(self._load, procedure)

    def loaded(self, procedure: Procedure) -> tuple[Phrases, Ears]:
        """Those of this definition; if others were begun, it takes as long again. Raises EngineError."""
        if self._begun is None or self._begun[0] != procedure:
            self._close()
            self.begin(procedure)
        assert self._begun is not None
        return self._begun[1].result()

    def __enter__(self) -> Loading:
        return self

    def __exit__(self, *_: object) -> None:
        self._close()
        self._at_work.shutdown()

    def _load(self, procedure: Procedure) -> tuple[Phrases, Ears]:
        phrases = compile_phrases(procedure)
        return phrases, ears(phrases, self._lead_word, self._engine)

    def _close(self) -> None:
        """What was loaded, as soon as it is."""
        begun, self._begun = self._begun, None
        if begun is not None and begun[1].exception() is None:
            begun[1].result()[1].close()


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
    ears: Ears
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
