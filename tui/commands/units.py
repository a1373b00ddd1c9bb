"""A number on one gauge, on the others."""

from __future__ import annotations

import json

import click

from log.basics.units import amount, conversions, shown, source, warnings


@click.command("units", short_help="Convert mmHg, kPa and cmH2O, and a hanging mass to newtons.")
@click.argument("words", nargs=-1, required=True, metavar="NUMBER UNIT")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, not rounded.")
def command(words: tuple[str, ...], as_json: bool) -> None:
    """Print what NUMBER UNIT is in the other units: tamponade units 30 mmHg, 3 kPa, 40cmH2O, 1 kg.

    Something that is not a number with a unit is reported in one line; then the exit code is 3.
    """
    given = amount(" ".join(words))
    same = conversions(given)
    if as_json:
        plain = {
            "given": {"value": given.value, "unit": given.unit},
            "quantity": given.quantity,
            "same": {one.unit: one.value for one in same},
            "source": source(given),
            "warnings": list(warnings(given)),
        }
        click.echo(json.dumps(plain))
        return
    first, *others = map(shown, same)
    click.echo(" = ".join((first, *others)))
    if source(given):
        click.echo(source(given))
    for text in warnings(given):
        click.echo(f"! {text}")
