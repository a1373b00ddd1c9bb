"""Debrief: steps, numbers against limits and corrections of a case."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from log.store import case as store
from log.store.folder import cases_folder
from log.summaries.whole import Whole, whole
from tui.commands.options import cases_option
from tui.views.one_screen import one_screen

if TYPE_CHECKING:
    from log.summaries.debrief import Debrief


@click.command("debrief", short_help="Debrief: steps, numbers against limits and corrections of a case.")
@click.argument("case")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@cases_option
def command(case: str, as_json: bool, cases: Path | None) -> None:
    """Print how long each step of CASE took, how near its numbers came to their limits, what became of findings and
    questions, and what was corrected, late, missed or not heard.

    Facts and figures from the record; nothing is scored. On paper: tamponade export CASE --to debrief.
    """
    from log.exports.debrief_json import plain
    from log.summaries.debrief import debrief

    known = whole(store.read(cases_folder(cases), case))
    found = debrief(known.course, known.record, known.until)
    if as_json:
        click.echo(json.dumps(plain(known, found)))
        return
    width, height = shutil.get_terminal_size()
    click.echo("\n".join(screen(known, found, width, height - 1 if sys.stdout.isatty() else None)))


def screen(case: Whole, found: Debrief, width: int, height: int | None) -> list[str]:
    """The screen line by line, in so many columns, and in so many lines where that can be done; None: as many as it
    needs."""
    from log.exports.debrief import heading, rows

    return one_screen(case, f"Debriefing, {heading(case, found)}", tuple(rows(case.procedure, found)), width, height)
