"""A case as it stands, read while another program may be writing it."""

from __future__ import annotations

import json
from pathlib import Path

import click

from log.exports.note import as_note
from log.exports.show_json import plain
from log.store import case as store
from log.store.folder import cases_folder
from log.summaries.whole import whole
from tui.commands.options import cases_option


@click.command("show", short_help="Show a case as it stands.")
@click.argument("case")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object: lines, and findings with their state.")
@cases_option
def command(case: str, as_json: bool, cases: Path | None) -> None:
    """Print the note of CASE: its name, the beginning of it, or the path of its file."""
    known = whole(store.read(cases_folder(cases), case))
    click.echo(json.dumps(plain(known)) if as_json else as_note(known))
