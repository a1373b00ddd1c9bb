"""Two definitions side by side: what whoever has to agree to the second would be agreeing to."""

from __future__ import annotations

import dataclasses
import json
import shutil
import textwrap
from collections.abc import Iterable, Iterator
from itertools import groupby
from pathlib import Path

import click

from log.basics.visible import visible
from log.definition.compare import Difference, differences
from log.definition.load import read_override
from log.definition.override import apply
from log.rules.definitions import read_procedure

UNCHANGED = "nothing differs"


@click.command("diff")
@click.argument("first")
@click.argument("second")
@click.option("--local", type=click.Path(path_type=Path), metavar="FILE", help="Local override put on SECOND.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def diff(first: str, second: str, local: Path | None, as_json: bool) -> None:
    """Show what differs between the definitions FIRST and SECOND (names or files), in the order of a case.

    With --local, FIRST and SECOND may be the same name: what an override changes. The exit code is 0 whether or not
    they differ.
    """
    one, other = read_procedure(first), read_procedure(second)
    if local is not None:
        other = apply(other, read_override(local, other))
    found = differences(one, other)
    if as_json:
        head = {"first": one.id, "second": other.id, "local": str(local) if local else None}
        click.echo(json.dumps({**head, "differences": [dataclasses.asdict(d) for d in found]}, ensure_ascii=False))
        return
    width = max(60, min(shutil.get_terminal_size().columns, 120))
    for caution in one.cautions:
        click.echo("\n".join(textwrap.wrap(f"! {visible(caution)}", width, subsequent_indent="  ")))
    click.echo(visible(f"- {first}\n+ {second}{f' with {local}' if local else ''}".replace("\n", "   ")))
    for line in lines(found, width):
        click.echo(line)


def lines(found: Iterable[Difference], width: int) -> Iterator[str]:
    """Group, then part, then what stood there (-) and stands there (+), wrapped to `width` columns."""
    empty = True
    for group, parts in groupby(found, lambda one: one.group):
        empty = False
        yield group.upper()
        for name, fields in groupby(parts, lambda one: one.name):
            yield from _part(visible(name), list(fields), width)
    if empty:
        yield UNCHANGED


def _part(name: str, fields: list[Difference], width: int) -> Iterator[str]:
    if name:
        yield f"  {name}"
    for one in fields:
        field = f"{visible(one.field)}: " if one.field else ""
        short = f"    {field}{visible(one.first or '')} -> {visible(one.second or '')}"
        if one.first and one.second and len(short) <= width:
            yield short
            continue
        for sign, text in (("-", one.first), ("+", one.second)):
            if text:
                yield from textwrap.wrap(
                    f"    {sign} {field}{visible(text)}", width, subsequent_indent="        ", break_on_hyphens=False
                )
