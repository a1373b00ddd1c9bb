"""Show what is overdue, due and next for a placed tube."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import click

from log.basics.errors import InputError
from log.basics.patterns import LEVELS
from log.basics.visible import visible
from log.exports.watch_json import plain
from log.store import case as store
from log.store.files import write_private
from log.store.folder import cases_folder
from log.summaries.handover import handover
from log.summaries.whole import whole
from tui.commands.options import as_of, cases_option, now_option
from tui.views.watch_page import page


@click.command("watch", short_help="Show what is overdue, due and next for a placed tube.")
@click.argument("case")
@now_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option(
    "--calendar",
    "calendar_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.ics",
    help="Also write a calendar file of what is due (pip install 'tamponade-log[calendar]').",
)
@cases_option
def command(case: str, now: str | None, as_json: bool, calendar_file: Path | None, cases: Path | None) -> None:
    """Print what is overdue, due and next in CASE, how long the balloons have been up, the step-down, and whether the
    pressures look like a leak.

    Only what was logged is known. A time before the case was opened cannot be used; then the exit code is 3.
    """
    known = whole(store.read(cases_folder(cases), case))
    at = as_of(known.opened.logged_at, known.until, now)
    handed = handover(known.course, known.record, at)
    found, beside = handed.watch, handed.night
    if calendar_file is not None:
        if known.simulation:
            raise InputError("rehearsals have no reminders", "leave out --calendar")
        from log.exports.calendar import calendar

        if not calendar_file.parent.is_dir():
            raise InputError(f"{calendar_file}: there is no such folder", "make it, or choose another")
        write_private(calendar_file, calendar(known.procedure, known.links[0].sha256, found))
    if as_json:
        mark = {"simulation": known.simulation} if known.simulation else {}
        click.echo(json.dumps({**mark, **plain(known.procedure, known.opened.case, found, beside)}))
        return
    counted = Counter(finding.level for finding in known.course.findings(at))
    standing = {level: counted[level] for level in LEVELS if counted[level]}
    if known.simulation:
        click.echo(known.simulation)
    click.echo("\n".join(map(visible, page(known.procedure, known.opened.case, found, standing, beside))))
