"""The cases on this machine."""

from __future__ import annotations

from pathlib import Path

import click

from log import store
from log.errors import TamponadeError
from log.record import fold
from tui.options import cases_option


@click.command("cases", short_help="List the cases on this machine.")
@cases_option
def command(cases: Path | None) -> None:
    """List the cases, oldest first: name, begin, label, entries, what is open."""
    folder = store.cases_folder(cases)
    names = store.names(folder)
    if not names:
        click.echo(f"no cases in {folder}")
    for name in names:
        try:
            click.echo(_line(folder, name))
        except TamponadeError as error:
            click.echo(f"{name}  {error}")


def _line(folder: Path, name: str) -> str:
    record = fold(fact for _, fact in store.read(folder, name))
    assert record.opened is not None
    asked = sum(line.status == "asked" for line in record.lines)
    began = record.opened.logged_at.strftime("%Y-%m-%d %H:%M")
    label = f"  {record.opened.label}" if record.opened.label else ""
    return (
        f"{name}  {began}  {len(record.lines)} entries, {asked} not confirmed, "
        f"{len(record.open_findings)} findings open{label}"
    )
