"""The card beside the bed: how to speak to the log, on one A5 page."""

from __future__ import annotations

from pathlib import Path

import click

from log.basics.errors import InputError
from log.rules.definitions import read_procedure
from log.store.files import write_private
from tui.commands.options import definition_option


@click.command("card", short_help="Write a page that shows how to speak to the log.")
@definition_option
@click.option(
    "--pdf",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("tamponade-card.pdf"),
    show_default=True,
    metavar="FILE.pdf",
    help="Where to write the page, A5.",
)
@click.option("--text", is_flag=True, help="Print it as text (Markdown) and write no file.")
def command(definition: str, pdf: Path, text: bool) -> None:
    """Write a page that shows how to speak to the log: ten lines of examples, and the cautions of the definition."""
    from log.exports.card import as_pdf, card
    from log.exports.markdown import as_markdown
    from voice.english.how_to_speak import advice, ways

    procedure = read_procedure(definition)
    page = card(procedure, advice(procedure), ((way.about, way.examples) for way in ways(procedure)))
    if text:
        click.echo(as_markdown(page), nl=False)
        return
    if not pdf.parent.is_dir():
        raise InputError(f"{pdf}: there is no such folder", "make it, or choose another")
    write_private(pdf, as_pdf(procedure, page))
    click.echo(f"{pdf}: how to speak to the log, one A5 page")
