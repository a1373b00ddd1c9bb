"""The demonstration: an invented case, spoken, heard by the real engines, read back, checked and written out."""

from __future__ import annotations

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


@click.command("demo", short_help="Hear an invented case and write its note, table and facts.")
@click.option("--paced", is_flag=True, help="Play in real time.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("tamponade-demo"),
    show_default=True,
    metavar="DIR",
    help="Folder for the case and what is written from it.",
)
def command(paced: bool, out: Path) -> None:
    """Hear a recorded, invented case through the real speech engines and write its note, table and facts.

    The voices are synthetic and the patient does not exist. What the engines mishear is shown as they heard it.
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
    view.start("Tamponade log: an invented case, heard from a recording")
    outcome = _heard(session, view, paced)
    view.end()
    view.console.print()
    kept = store.read(out, session.case.path.stem)
    known = whole(kept)
    for path in [session.case.path, *write_exports(known, tuple(FORMATS), out, kept.name)]:
        view.console.print(f"wrote {path}", soft_wrap=True)
    view.console.print(f"{outcome.seconds:.0f} s of sound in {time.monotonic() - began:.0f} s")


def _heard(session: Session, view: ReadBack, paced: bool) -> Outcome:
    with (
        as_file(files("tui.demo") / "demo.opus") as path,
        ears(compile_phrases(session.procedure), LEAD_WORD, "auto") as listening,
    ):
        return replay(AudioFile(path, paced=paced), session, listening, view)
