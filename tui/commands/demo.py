"""The demonstration: an invented case, spoken, heard by the real engines, read back, checked and written out."""

from __future__ import annotations

import os
import shutil
import sys
import time
from importlib.resources import as_file, files
from pathlib import Path

import click

from log.definition.load import in_force
from log.exports import FORMATS
from log.rules.definitions import read_procedure
from log.scribe.opening import Keeping, open_case
from log.scribe.session import Session
from log.store import case as store
from log.summaries.whole import whole
from tui.commands.export import write_exports
from tui.commands.options import ears
from tui.live.replay import Outcome, replay
from tui.views.read_back import ReadBack
from voice.phrases.phrases import compile_phrases
from voice.sound.audio import AudioFile

LEAD_WORD = "log"


ROOM = (100, 30)
"""Columns and lines of a terminal from which the room's screen is shown."""


@click.command("demo", short_help="Hear an invented case and write its note, table and facts.")
@click.option("--paced", is_flag=True, help="Play in real time. The room's screen always does.")
@click.option("--plain", is_flag=True, help="Print lines where the terminal has room for the room's screen as well.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("tamponade-demo"),
    show_default=True,
    metavar="DIR",
    help="Folder for the case and what is written from it.",
)
def command(paced: bool, plain: bool, out: Path) -> None:
    """Hear a recorded, invented case through the real speech engines and write its note, table and facts.

    In a terminal of 100 x 30 or more it opens the room's screen, as at the bedside; q ends it. Else, and with --plain,
    it prints a line for each entry. The voices are synthetic and the patient does not exist. What the engines mishear
    is shown as they heard it.
    """
    began = time.monotonic()
    session = open_case(
        out,
        None,
        in_force(read_procedure("three-lumen"), None),
        "demo.opus",
        Keeping(label="invented demonstration"),
    )
    view = ReadBack(session)
    on_a_terminal = all(stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr))
    if not plain and on_a_terminal and has_room(shutil.get_terminal_size()):
        _in_the_room(session)
        _write(session, view, out)
        return
    view.start("Tamponade log: an invented case, heard from a recording")
    outcome = _heard(session, view, paced)
    _write(session, view, out)
    view.console.print(f"{outcome.seconds:.0f} s of sound in {time.monotonic() - began:.0f} s")


def has_room(size: os.terminal_size) -> bool:
    """Whether a terminal is large enough for the room's screen."""
    return size.columns >= ROOM[0] and size.lines >= ROOM[1]


def _write(session: Session, view: ReadBack, out: Path) -> None:
    """How it stands, and everything that the team takes away."""
    view.end()
    view.console.print()
    kept = store.read(out, session.case.path.stem)
    for path in [session.case.path, *write_exports(whole(kept), tuple(FORMATS), out, kept.name)]:
        view.console.print(f"wrote {path}", soft_wrap=True)


def _in_the_room(session: Session) -> None:
    """The room's screen, fed with the recording in real time, until somebody leaves it."""
    from tui.commands.in_the_room import InTheRoom, on_a_screen

    phrases = compile_phrases(session.procedure)
    with (
        as_file(files("tui.demo") / "demo.opus") as path,
        ears(phrases, LEAD_WORD, "auto") as listening,
    ):
        source = AudioFile(path, paced=True)
        on_a_screen(InTheRoom(source, session, listening, "lead word", None, speak=False), phrases, "demonstration")


def _heard(session: Session, view: ReadBack, paced: bool) -> Outcome:
    with (
        as_file(files("tui.demo") / "demo.opus") as path,
        ears(compile_phrases(session.procedure), LEAD_WORD, "auto") as listening,
    ):
        return replay(AudioFile(path, paced=paced), session, listening, view)
