"""A case from another machine."""

from __future__ import annotations

from pathlib import Path

import click

from log.basics.visible import visible
from log.exports.jsonl_import import import_case
from log.store.folder import cases_folder
from tui.commands.options import cases_option


@click.command("import", short_help="Make a case from its exported facts.")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--key", "keys", metavar="HEX", multiple=True, help="The key of the machine it is from, as on a note from there."
)
@click.option("--encrypt", is_flag=True, help="Encrypt the new case with a passphrase. See README.")
@cases_option
def command(file: Path, keys: tuple[str, ...], encrypt: bool, cases: Path | None) -> None:
    """Make the case of FILE.jsonl, with the same facts and the same signed head; or add what it has more than the case
    that is here. Nothing is kept of a file that does not verify. Sound is not in the file.

    What another machine signed is taken only with its --key: who can write a file can sign it.
    """
    imported = import_case(cases_folder(cases), file, encrypt, keys)
    said = {
        "new": f"{imported.facts} facts, a new case",
        "longer": f"{imported.facts} facts added",
        "known": "nothing new: all of it is here",
    }[imported.outcome]
    click.echo(visible(f"{imported.path}: {said}"))
