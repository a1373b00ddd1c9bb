"""The hand-over to the next team, on one screen or on one page to sign."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from log.basics.errors import InputError
from log.store import case as store
from log.store.files import write_private
from log.store.folder import cases_folder
from log.summaries.whole import Paper, Whole, whole
from tui.commands.options import as_of, cases_option, now_option
from tui.views.one_screen import one_screen

if TYPE_CHECKING:
    from log.summaries.handover import Handover


@click.command("handover", short_help="Hand over: the state of a case on one screen, or one page to sign.")
@click.argument("case")
@now_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option(
    "--pdf",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.pdf",
    help="Write the page to sign, too.",
)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the PDF's page."
)
@cases_option
def command(case: str, now: str | None, as_json: bool, pdf: Path | None, paper: Paper, cases: Path | None) -> None:
    """Print how the tube of CASE stands for whoever takes over: balloons, what is due, traction, mark, X-ray, bleeding,
    what came out, scissors, and everything that nobody has settled.

    Only what was logged is known. A time before the case was opened cannot be used; then the exit code is 3.
    """
    from log.exports.handover_json import plain
    from log.summaries.handover import handover

    known = whole(store.read(cases_folder(cases), case), paper)
    found = handover(known.course, known.record, as_of(known.opened.logged_at, known.until, now))
    if pdf is not None:
        from log.exports.handover import page_of

        if not pdf.parent.is_dir():
            raise InputError(f"{pdf}: there is no such folder", "make it, or choose another")
        write_private(pdf, page_of(known, found))
    if as_json:
        click.echo(json.dumps(plain(known, found)))
        return
    width, height = shutil.get_terminal_size()
    click.echo("\n".join(screen(known, found, width, height - 1 if sys.stdout.isatty() else None)))


def screen(case: Whole, found: Handover, width: int, height: int | None) -> list[str]:
    """The screen line by line, in so many columns, and in so many lines where that can be done; None: as many as it
    needs."""
    from log.exports.handover import heading, rows

    return one_screen(case, f"Hand-over, {heading(case, found)}", tuple(rows(case.procedure, found)), width, height)
