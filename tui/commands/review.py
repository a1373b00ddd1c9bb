"""Many cases next to each other, for those who look back: how long things took, what was found, what was corrected."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from log.basics.errors import InputError
from log.basics.visible import visible
from log.exports.csv_table import LINE_END, harmless
from log.exports.review import Plain, Review, as_parquet, found, review
from log.exports.review.engine import ENGINES
from log.exports.review.registry import as_page
from log.store.files import write_private
from log.store.folder import cases_folder
from tui.commands.options import cases_option

if TYPE_CHECKING:
    from rich.table import Table

CAPTION = (
    "Times are h:mm:ss from the arrival of the tube (o: from the opening of the log, for it was not said); X-ray delay "
    "is from the first film requested or taken to the one that confirms; + is still in. Findings: ever "
    "raised, still open. Last row: medians of times, sums of counts. What was not said is not in here."
)


@click.command("review", short_help="Compare many cases.")
@click.argument("places", nargs=-1, type=click.Path(path_type=Path), metavar="[DIR|FILES]...")
@click.option("--label", "with_label", is_flag=True, help="Show the cases' labels: free text, so only on demand.")
@click.option("--csv", "as_csv", is_flag=True, help="Print comma-separated values, times in seconds.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, times in seconds.")
@click.option(
    "--parquet", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="Write the rows as Parquet, too."
)
@click.option(
    "--html", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE", help="Write the registry page, too."
)
@click.option(
    "--engine",
    type=click.Choice(tuple(ENGINES)),
    default="duckdb",
    show_default=True,
    help="What does the sums; each is an extra of its own.",
)
@click.option("--url", default="", help="Where Spark's master or the PostgreSQL database is; without it, here.")
@cases_option
def command(
    places: tuple[Path, ...],
    with_label: bool,
    as_csv: bool,
    as_json: bool,
    parquet: Path | None,
    html: Path | None,
    engine: str,
    url: str,
    cases: Path | None,
) -> None:
    """Compare cases: the case files and JSON Lines exports in folders, hand-overs below them (export --to parquet), or
    given one by one; without any, the cases on this machine. Exports without identity will do.

    Each file is checked first; one that cannot be used is named, the others are reviewed, and the exit code is 3. The
    sums are in one SQL file, log/exports/review/review.sql; with facts.sql beside it DuckDB runs alone on exports, too.
    """
    if as_csv and as_json:
        raise click.UsageError("choose one of --csv and --json")
    result = review(found(places or (cases_folder(cases),)), with_label, engine, url)
    for note in (*result.left_out, *result.unusable):
        click.echo(visible(f"tamponade: {note}"), err=True)
    if parquet is not None:
        _write(parquet, as_parquet(result))
    if html is not None:
        _write(html, as_page(result).encode())
    if as_csv:
        click.echo(_csv(result), nl=False)
    elif as_json:
        click.echo(json.dumps({"cases": result.cases, "all": result.of_all}))
    elif result.rows:
        _print(_table(result, with_label))
    if result.unusable:
        raise SystemExit(InputError.exit_code)


def _write(path: Path, content: bytes) -> None:
    if not path.parent.is_dir():
        raise InputError(f"{path}: there is no such folder", "make it, or choose another")
    write_private(path, content)


def _csv(result: Review) -> str:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator=LINE_END)
    writer.writerow(result.columns)
    writer.writerows([harmless(value) if isinstance(value, str) else value for value in row] for row in result.rows)
    return out.getvalue()


def _print(table: Table) -> None:
    from rich.console import Console

    console = Console(highlight=False)
    if not console.is_terminal:
        console.width = 180  # nobody's window is too narrow for a file
    console.print(table)


COLUMNS: tuple[tuple[str, Callable[[Plain], str]], ...] = (
    ("to\ngastric air", lambda case: _since(case, "to_gastric_s")),
    ("to X-ray\nconfirmed", lambda case: _since(case, "to_xray_s")),
    ("X-ray\ndelay", lambda case: _time(case["xray_delay_s"])),
    ("tube\nin for", lambda case: _time(case["dwell_s"]) + ("+" if case["still_in"] is True else "")),
    ("oesoph.\nlongest", lambda case: _time(case["oesophageal_s"])),
    ("high", lambda case: _findings(case, "high")),
    ("med.", lambda case: _findings(case, "medium")),
    ("low", lambda case: _findings(case, "low")),
    ("info", lambda case: _findings(case, "information")),
    ("an-\nswered", lambda case: _count(case["answered"])),
    ("amen-\nded", lambda case: _count(case["amended"])),
    ("struck", lambda case: _count(case["struck"])),
    ("late", lambda case: _count(case["late"])),
    ("not con-\nfirmed", lambda case: _count(case["not_confirmed"])),
    ("gaps", lambda case: f"{case['gaps']}, {_time(case['gap_s'])}" if case["gaps"] else ""),
)
"""Heading of a column, and what stands in it."""


def _table(result: Review, with_label: bool) -> Table:
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(box=box.SIMPLE_HEAD, padding=(0, 1, 0, 0), show_footer=True, caption=CAPTION, caption_justify="left")
    of_all = {"case": f"{result.of_all['cases']} cases", "counted_from": "", **result.of_all}
    table.add_column("case", of_all["case"], overflow="fold")
    if with_label:
        table.add_column("label", overflow="fold")
    table.add_column("began", no_wrap=True)
    for heading, cell in COLUMNS:
        table.add_column(heading, cell(of_all), justify="right")
    for case in result.cases:
        name = case["case"] or Path(case["file"]).name
        label = (Text(visible(case["label"] or "")),) if with_label else ()
        began = Text(visible(case["began"][:16].replace("T", " ")))
        table.add_row(Text(visible(name)), *label, began, *(cell(case) for _, cell in COLUMNS))
    return table


def _time(seconds: float | None) -> str:
    """Hours, minutes and seconds."""
    if seconds is None:
        return ""
    whole = round(abs(seconds))
    return f"{'-' if seconds < 0 and whole else ''}{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}"


def _since(case: Plain, name: str) -> str:
    """A time with a mark if it is not from the arrival of the tube."""
    return _time(case[name]) + ("o" if case["counted_from"] == "opening" and case[name] is not None else "")


def _findings(case: Plain, level: str) -> str:
    raised, still_open = case[f"{level}_raised"], case[f"{level}_open"]
    return f"{raised}, {still_open}" if raised else ""


def _count(count: Any) -> str:
    return str(count) if count else ""
