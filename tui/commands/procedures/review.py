"""A hospital's override on one screen, for whoever approves it: what is looser comes first and says so in words."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import click

from log.basics.visible import visible
from log.definition.load import BrokenDefinition, in_force, overridden, read_override
from log.definition.local_changes import LOUD, Change, changes, doubts, unchanged
from log.definition.override import Override
from log.definition.procedure import Procedure
from log.rules.definitions import read_procedure


@click.command("review")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--definition",
    metavar="NAME|FILE",
    help="The definition it changes, if it is not a shipped one; else as FILE says.",
)
def review(file: Path, definition: str | None) -> None:
    """Show a local override FILE on one screen: what it changes, which way, who approved it and when.

    What is looser than shipped, or left out, comes first. Exit code 3 if the file cannot be used as it is.
    """
    procedure = read_procedure(definition or overridden(file))
    try:
        override = read_override(file, procedure)
    except BrokenDefinition as error:
        if not error.problems:
            raise
        for path, text in error.problems:
            click.echo(visible(f"{path}: {text}"))
        count = len(error.problems)
        click.echo(f"{count} problem{'s' if count > 1 else ''} in {visible(str(file))}: not used as it is", err=True)
        sys.exit(3)
    width = max(60, min(shutil.get_terminal_size().columns, 120))
    for line in screen(procedure, override, date.today(), width):
        click.echo(line)
    in_force(procedure, override)  # what a site still has to set is shown once more, with the exit code


def screen(procedure: Procedure, override: Override, today: date, width: int) -> Iterator[str]:
    """The lines, each at most `width` columns."""
    yield from _wrapped(f"Local protocol for {procedure.title} ({procedure.id}, version {procedure.version})", width)
    yield from _wrapped(
        f"approved by {override.approved_by} on {override.approved_on}, {age(override.approved_on, today)}", width
    )
    yield from _wrapped(f"reason: {override.reason.strip() or 'NONE GIVEN'}", width)
    found = changes(procedure, override)
    loud = [one for one in found if one.direction in LOUD]
    count = f"{len(loud)} of {len(found)} changes" if found else "no change"
    yield from _wrapped(f"! {count} LOOSER THAN SHIPPED OR LEFT OUT" if loud else f"{count} looser than shipped", width)
    yield ""
    for one in (*loud, *(one for one in found if one.direction not in LOUD)):
        yield from _change(one, width)
    kept = unchanged(procedure, override)
    yield ""
    yield from _wrapped(f"As shipped: phrases, rules, order, clocks; limits: {', '.join(kept) or 'none'}", width)
    problems = list(doubts(procedure, override, today))
    yield from _wrapped("To mend:" if problems else "Nothing to mend.", width)
    for path, text in problems:
        yield from _wrapped(f"  {path}: {text}", width)
    for caution in procedure.cautions:
        yield from _wrapped(f"! {caution}", width)


def _change(one: Change, width: int) -> Iterator[str]:
    mark = f"!! {one.direction.upper()}" if one.direction in LOUD else f"   {one.direction}"
    yield from _wrapped(f"{mark}: {one.what} ({one.path})", width)
    standing = f" {one.standing}" if one.standing else ""
    yield from _wrapped(f"      {one.shipped}{standing} -> {one.local}", width)


def age(approved: date, today: date) -> str:
    """How long ago, in whole days, months or years as somebody would say it."""
    days = (today - approved).days
    if days < 0:
        return "WHICH IS STILL TO COME"
    if days < 62:  # no two months are longer
        return f"{days} day{'' if days == 1 else 's'} ago"
    months = (today.year - approved.year) * 12 + today.month - approved.month - (today.day < approved.day)
    if months < 24:
        return f"{months} months ago"
    return f"{months // 12} years ago"


def _wrapped(text: str, width: int) -> list[str]:
    text = visible(text)
    indent = " " * (len(text) - len(text.lstrip()) + 2)
    return textwrap.wrap(text, width, subsequent_indent=indent, break_on_hyphens=False)
