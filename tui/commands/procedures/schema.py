"""The schema of the files a hospital writes, for its editor."""

from __future__ import annotations

import json
from typing import Literal

import click

from log.definition.schema import schema as schema_of


@click.command("schema")
@click.argument("of", type=click.Choice(["definition", "override"]), default="override")
def schema(of: Literal["definition", "override"]) -> None:
    """Print the JSON Schema of a definition or (without a word) an override, for an editor that knows TOML.

    Write it beside your file and name it in the file's first line: #:schema ./override.schema.json
    """
    click.echo(json.dumps(schema_of(of), ensure_ascii=False, indent=2))
