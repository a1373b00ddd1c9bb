"""The card beside the bed is one A5 page, as large as fits, with every caution, and the same to the byte."""

from __future__ import annotations

from io import BytesIO

import pytest
from pypdf import PdfReader
from reportlab.lib.pagesizes import A5

from log.exports.card import as_pdf, card
from log.exports.markdown import as_markdown
from tests import cases

ADVICE = ("Speak as you like.", "Orders are not logged.")
EXAMPLES = (("pressure", ("oesophageal's reading three five",)), ("put right", ("scratch that", "undo that")))


def words(content: bytes) -> str:
    [page] = PdfReader(BytesIO(content)).pages
    assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(A5, abs=0.01)
    return " ".join(page.extract_text().split())


@pytest.mark.parametrize("name", ["three-lumen", "four-lumen", "three-lumen-child"])
def test_the_page_holds_advice_examples_and_every_caution(name: str) -> None:
    procedure = cases.procedure(name)
    written = words(as_pdf(card(procedure, ADVICE, EXAMPLES), "Card"))
    for text in (procedure.title, *ADVICE, "pressure", '"scratch that", "undo that"', *procedure.cautions):
        assert text in written


@pytest.mark.parametrize("lines", [1, 40, 200])
def test_it_is_one_page_however_much_is_on_it(lines: int) -> None:
    procedure = cases.procedure("three-lumen")
    many = tuple((f"line {number}", ("say this, or something like it",)) for number in range(lines))
    written = words(as_pdf(card(procedure, ADVICE, many), "Card"))
    assert f"line {lines - 1} " in written
    assert procedure.cautions[-1] in written


def test_the_writing_is_larger_where_there_is_less_of_it() -> None:
    procedure = cases.procedure("three-lumen")

    def size(lines: int) -> float:
        content = as_pdf(card(procedure, ADVICE, EXAMPLES * lines), "Card")
        seen: list[float] = []
        page = PdfReader(BytesIO(content)).pages[0]
        page.extract_text(visitor_text=lambda _text, cm, _tm, _font, _size: seen.append(float(cm[0])))
        return max(seen)

    assert size(1) > size(12) >= 1.0


def test_the_same_definition_gives_the_same_bytes() -> None:
    procedure = cases.procedure("three-lumen")
    document = card(procedure, ADVICE, EXAMPLES)
    assert as_pdf(document, "Card") == as_pdf(document, "Card")


def test_as_text_it_says_the_same() -> None:
    procedure = cases.procedure("three-lumen")
    text = as_markdown(card(procedure, ADVICE, EXAMPLES))
    assert '| **put right** | "scratch that", "undo that" |' in text
    assert all(f"> {caution}" in text for caution in procedure.cautions)
