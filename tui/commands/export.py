"""Exports: the files that the team takes away."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import click

from log.basics.errors import InputError
from log.basics.visible import visible
from log.exports import FORMATS
from log.exports.deidentify import Withheld, deidentified
from log.exports.review import found
from log.exports.review.gather import EXPORT
from log.exports.review.hand_over import hand_over
from log.store import case as store
from log.store.files import private_folder, write_private
from log.store.folder import cases_folder, find_case
from log.summaries.whole import Paper, Whole, whole
from tui.commands.options import cases_option

ALL = "all"
PARQUET = "parquet"


@click.command("export", short_help="Write the procedure note and everything else the team takes away.")
@click.argument("names", nargs=-1, required=True, metavar="CASE...")
@click.option(
    "--to",
    "formats",
    type=click.Choice([*FORMATS, ALL, PARQUET]),
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
@click.option("--site", default="", metavar="NAME", help="For parquet: who hands the cases over.")
@click.option("--months", is_flag=True, help="For parquet: keep the month, too, as an agreement has to allow.")
@cases_option
def command(
    names: tuple[str, ...],
    formats: tuple[str, ...],
    out: Path | None,
    paper: Paper,
    force: bool,
    deidentify: bool,
    keep_free_text: bool,
    site: str,
    months: bool,
    cases: Path | None,
) -> None:
    """Write CASE for the people who need it: note, table, facts, audit trail, exchange format, timeline.

    Files are readable by their owner alone.

    "parquet" hands cases to a network that reviews many sites, always without identity: elapsed times, and of the date
    the year alone. There CASE... are cases, and folders or exports (*.jsonl) of them; --out is needed, with a folder
    for each site and month in it.
    """
    if PARQUET in formats:
        if len(formats) > 1 or out is None or not site:
            raise click.UsageError("parquet is written by itself, with --site NAME and --out DIR")
        _hand_over([path for name in names for path in _paths(name, cases)], site, months, out, force)
        return
    if len(names) > 1:
        raise click.UsageError("one case at a time; --to parquet takes many")
    (case,) = names
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
    contents = {out / f"{name}{FORMATS[chosen].suffix}": _bytes(FORMATS[chosen].write(known)) for chosen in formats}
    _write(out, contents, force)
    return list(contents)


def _write(out: Path, contents: Mapping[Path, bytes], force: bool) -> None:
    private_folder(out)
    for path, content in contents.items():
        if not force and path.exists() and path.read_bytes() != content:
            raise InputError(
                f"{path}: is there already and is not what would be written",
                "somebody may have filled it in: choose another --out, or --force",
            )
    for path, content in contents.items():
        private_folder(path.parent)
        write_private(path, content)


def _paths(name: str, cases: Path | None) -> list[Path]:
    """A folder or an export stands for itself, anything else for a case."""
    path = Path(name)
    return found([path]) if path.is_dir() or path.suffix == EXPORT else [find_case(cases_folder(cases), name)]


def _hand_over(paths: Sequence[Path], site: str, months: bool, out: Path, force: bool) -> None:
    """Writes cases as a hand-over. Raises SystemExit with the code of unusable input if there was any."""
    made = hand_over(paths, site, months)
    for note in (*made.left_out, *made.unusable):
        click.echo(visible(f"tamponade: {note}"), err=True)
    _write(out, {out / name: content for name, content in made.files.items()}, force)
    for name in made.files:
        click.echo(visible(str(out / name)))
    kept = "the year and the month of each are kept: an agreement has to allow that" if months else "the year is kept"
    own = f"; {made.own_definitions} with a definition of your own: see whether its words name a place"
    click.echo(
        f"tamponade: {made.cases} cases handed over without names, dates, voices and free text; {kept}"
        f"{own if made.own_definitions else ''}; whether what remains could identify somebody is yours to judge",
        err=True,
    )
    if made.unusable:
        raise SystemExit(InputError.exit_code)


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
