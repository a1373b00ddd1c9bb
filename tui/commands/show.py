"""A case as it stands, read while another program may be writing it."""

from __future__ import annotations

from pathlib import Path

import click

from log.exports.note import as_note
from log.store import case as store
from log.store.folder import cases_folder
from log.summaries.whole import whole
from tui.commands.options import cases_option


@click.command("show", short_help="Show a case as it stands.")
@click.argument("case")
@cases_option
def command(case: str, cases: Path | None) -> None:
    """Print the note of CASE: its name, the beginning of it, or the path of its file."""
    click.echo(as_note(whole(store.read(cases_folder(cases), case))))
