"""Pages on paper: the card beside the bed that shows how to speak to the log (A5), and a quick start for a ward."""

from __future__ import annotations

from pathlib import Path

import click

from log.basics.errors import InputError
from log.rules.definitions import read_procedure
from log.store.files import write_private
from tui.commands.options import definition_option


@click.command("card", short_help="Write a page that shows how to speak to the log, or a quick start.")
@definition_option
@click.option(
    "--pdf",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("tamponade-card.pdf"),
    show_default=True,
    metavar="FILE.pdf",
    help="Where to write the page.",
)
@click.option("--quick-start", is_flag=True, help="The quick start for a ward instead, A4.")
@click.option("--letter", is_flag=True, help="The quick start on Letter paper.")
@click.option("--text", is_flag=True, help="Print it as text (Markdown) and write no file.")
def command(definition: str, pdf: Path, quick_start: bool, letter: bool, text: bool) -> None:
    """Write a page that shows how to speak to the log (A5): ten lines of examples, and the cautions of the definition.

    With --quick-start: one page for a ward on how to begin, what the screen says, the hours after and how to end.
    """
    from reportlab.lib.pagesizes import A4, A5, LETTER

    from log.exports.card import as_pdf, card
    from log.exports.markdown import as_markdown
    from tui.views import quick_start as ward
    from voice.english.how_to_speak import advice, ways

    procedure = read_procedure(definition)
    if quick_start or letter:
        page, title, size = ward.quick_start(procedure), "quick start for a ward", LETTER if letter else A4
    else:
        page = card(procedure, advice(procedure), ((way.about, way.examples) for way in ways(procedure)))
        title, size = "how to speak to the log", A5
    if text:
        click.echo(as_markdown(page), nl=False)
        return
    if not pdf.parent.is_dir():
        raise InputError(f"{pdf}: there is no such folder", "make it, or choose another")
    write_private(pdf, as_pdf(page, f"{title.capitalize()}: {procedure.title}", size))
    paper = {A5: "A5", A4: "A4", LETTER: "Letter"}[size]
    click.echo(f"{pdf}: {title}, one {paper} page")
