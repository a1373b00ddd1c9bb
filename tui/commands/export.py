"""Exports: the files that the team takes away."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import click

from log.basics.errors import InputError
from log.basics.visible import visible
from log.exports import FORMATS
from log.exports.deidentify import Withheld, deidentified
from log.store import case as store
from log.store.files import private_folder, write_private
from log.store.folder import cases_folder
from log.summaries.whole import Paper, Whole, whole
from tui.commands.options import cases_option

ALL = "all"


@click.command("export", short_help="Write the procedure note and everything else the team takes away.")
@click.argument("case")
@click.option(
    "--to",
    "formats",
    type=click.Choice([*FORMATS, ALL]),
    multiple=True,
    default=("note",),
    show_default=True,
    help="What to write; may be given several times.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Folder to write into; without it one format is printed.",
)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the PDF's pages."
)
@click.option("--force", is_flag=True, help="Replace files that are not as they would be written: edited, or older.")
@click.option(
    "--deidentify", is_flag=True, help="Elapsed times for dates; names, serial numbers, voices and free text left out."
)
@click.option(
    "--keep-free-text", is_flag=True, help="With --deidentify: keep free text, marked to be read and checked."
)
@cases_option
def command(
    case: str,
    formats: tuple[str, ...],
    out: Path | None,
    paper: Paper,
    force: bool,
    deidentify: bool,
    keep_free_text: bool,
    cases: Path | None,
) -> None:
    """Write CASE for the people who need it: note, table, facts, audit trail, exchange format, timeline.

    Files are readable by their owner alone.
    """
    chosen = tuple(FORMATS) if ALL in formats else formats
    if out is None and len(chosen) > 1:
        out = Path()
    folder = cases_folder(cases)
    kept = store.read(folder, case)
    known = whole(kept, paper)
    if deidentify:
        known, withheld = deidentified(known, keep_free_text)
        _say(withheld)
    if out is None:
        _print(FORMATS[chosen[0]].write(known), chosen[0])
        return
    for path in write_exports(known, chosen, out, "case" if deidentify else kept.name, force):
        click.echo(visible(str(path)))


def write_exports(known: Whole, formats: Sequence[str], out: Path, name: str, force: bool = True) -> list[Path]:
    """Writes a case in several formats and returns the files. Without `force` raises InputError, and writes nothing,
    where one is there that is not as it would be written."""
    private_folder(out)
    contents = {out / f"{name}{FORMATS[chosen].suffix}": _bytes(FORMATS[chosen].write(known)) for chosen in formats}
    for path, content in contents.items():
        if not force and path.exists() and path.read_bytes() != content:
            raise InputError(
                f"{path}: is there already and is not what would be written",
                "somebody may have filled it in: choose another --out, or --force",
            )
    for path, content in contents.items():
        write_private(path, content)
    return list(contents)


def _bytes(written: str | bytes) -> bytes:
    return written.encode() if isinstance(written, str) else written


def _print(written: str | bytes, chosen: str) -> None:
    if isinstance(written, str):
        click.echo(written, nl=False)
    elif sys.stdout.isatty():
        raise InputError(f"{chosen} is not for a terminal", "give a folder with --out DIR")
    else:
        click.echo(written, nl=False)


def _say(withheld: Withheld) -> None:
    for line in withheld.lines:
        click.echo(f"tamponade: {line}", err=True)
