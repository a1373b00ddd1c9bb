"""A checked copy of a case."""

from __future__ import annotations

from pathlib import Path

import click

from log.basics.visible import visible
from log.store.backup import back_up
from log.store.folder import cases_folder, find_case
from tui.commands.options import cases_option


@click.command("backup", short_help="Copy a case into another folder, and check the copy.")
@click.argument("case")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path, file_okay=False))
@cases_option
def command(case: str, folder: Path, cases: Path | None) -> None:
    """Copy CASE with its sounds into DIR, also while it is being written, and verify the copy. An encrypted case stays
    encrypted. A copy of the same case from before is replaced; any other file of that name is left as it is.

    To put a copy back, end what writes the case, then move ID.case and what lies beside it (ID.case-wal) away together
    and copy the one file there.
    """
    copy, report = back_up(find_case(cases_folder(cases), case), folder)
    ends = report.head.sha256 if report.head else "nothing"
    click.echo(visible(f"{copy}: {report.facts} facts, verified; ends with {ends}"))
