"""The room is listened to: a microphone, or a recording played as one, on the big screen or in plain lines."""

from __future__ import annotations

import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from log.basics.visible import visible
from log.definition.load import InForce
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
from log.scribe.session import wall_clock
from log.store.folder import cases_folder
from tui.commands.in_the_room import InTheRoom, a_microphone, in_lines, on_a_screen, ready
from tui.commands.loading import Loading
from tui.commands.options import (
    cases_option,
    definition_option,
    engine_option,
    keeping_options,
    lead_word_option,
    local_option,
    no_check_option,
    record_only_option,
)
from tui.live.ears_to_come import EarsToCome
from tui.live.view import Mode
from tui.room.plain import WAYS
from tui.views.sound_check import run_check
from voice.meaning.ears import EngineChoice

if TYPE_CHECKING:
    pass


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
    with Loading(lead_word, engine, quiet=not plain) as loading:
        loading.begin(procedure_of(folder, found.name if found else name, in_force))
        if found is not None and goes_on(found, plain):
            name = found.name
        elif found is None and not (plain or name or audio):
            first_start(in_force, device)
        phrases, coming = loading.begun(procedure_of(folder, name, in_force))
        if audio is not None or coming.done():  # before the case: engines that fail at once leave none behind
            coming.result()
        unnamed = name is None
        session = open_case(folder, name, in_force, source.name, Keeping(author, label, keep_sound, encrypt))
        again = None if audio is not None else lambda: a_microphone(device)
        tones = audio is None and not (silent or speak)
        engines = EarsToCome(phrases, lead_word, coming)
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
