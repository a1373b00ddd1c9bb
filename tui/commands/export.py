"""What the team takes away."""

from __future__ import annotations

from pathlib import Path

import click

from log import store
from log.exports import FORMATS
from log.load import of_case
from tui.options import cases_option


@click.command("export", short_help="Write the procedure note, the table or all facts of a case.")
@click.argument("case")
@click.option(
    "--to",
    "formats",
    type=click.Choice(list(FORMATS)),
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
@cases_option
def command(case: str, formats: tuple[str, ...], out: Path | None, cases: Path | None) -> None:
    """Write CASE as a procedure note, a table or a list of all facts."""
    folder = store.cases_folder(cases)
    if out is None and len(formats) == 1:
        stored = store.read(folder, case)
        click.echo(FORMATS[formats[0]].write(of_case(f for _, f in stored), stored), nl=False)
        return
    for path in write_exports(folder, case, formats, out or Path()):
        click.echo(str(path))


def write_exports(folder: Path, case: str, formats: tuple[str, ...], out: Path) -> list[Path]:
    """Writes a case in several formats and returns the files."""
    stored = store.read(folder, case)
    procedure = of_case(fact for _, fact in stored)
    name = store.find(folder, case).name.removesuffix(store.SUFFIX)
    out.mkdir(parents=True, exist_ok=True)
    paths = []
    for chosen in formats:
        path = out / f"{name}{FORMATS[chosen].suffix}"
        path.write_text(FORMATS[chosen].write(procedure, stored), encoding="utf-8", newline="")
        paths.append(path)
    return paths
