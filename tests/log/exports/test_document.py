"""One document, written as Markdown, as a page, as a narrative and on paper: each says the same in its own way."""

from __future__ import annotations

import io
import re
from dataclasses import replace

from hypothesis import example, given
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from pypdf import PdfReader

from log.exports import html
from log.exports.chart import chart
from log.exports.document import (
    BOX,
    BREAK,
    Document,
    Figure,
    Heading,
    Item,
    Notice,
    Paragraph,
    Points,
    Strong,
    Struck,
    Table,
    in_one_line,
    joined,
    plain,
    section,
    sections,
    table,
    unless_empty,
)
from log.exports.markdown import as_markdown
from log.exports.pdf import pages
from tests.cases import good_case

PRESSURES = Points((Item("35 mmHg", "note"), Item("45 mmHg", "high")), "pressure")
BALLOONS = Table(
    ("Balloon", "Now", "Seen by"),
    (
        ("gastric", ("was ", Struck("200 mL"), " 250 mL"), BOX),
        (
            "oesophageal",
            Points((Item("35 mmHg", "note"), Item("45 mmHg", "high")), "pressure"),
            ("twice", BREAK, "now"),
        ),
    ),
    looks=("stands", "asked"),
)
PAGE = Document(
    "Page",
    (
        Heading("State <now>", level=1),
        Notice(((Strong("Caution:"), " read | it"), "twice")),
        *section("Balloons", BALLOONS, Paragraph(("It is ", Strong("up")))),
        *section("Drugs", table(("Drug",), (), "None & nothing."), Points((Item("one"), Item("two")))),
    ),
)


def test_as_markdown() -> None:
    assert as_markdown(PAGE) == (
        "# State \\<now\\>\n\n"
        "> **Caution:** read \\| it\n>\n> twice\n\n"
        "## Balloons\n\n"
        "| Balloon | Now | Seen by |\n| --- | --- | --- |\n"
        "| gastric | was ~~200 mL~~ 250 mL | ________ |\n"
        "| oesophageal | pressure; 35 mmHg; 45 mmHg | twice now |\n\n"
        "It is **up**\n\n"
        "## Drugs\n\nNone \\& nothing.\n\n- one\n- two\n"
    )


def test_as_a_page() -> None:
    assert html.for_page(PAGE.blocks) == (
        "<h1>State &lt;now&gt;</h1>\n"
        '<div class="caution"><p><strong>Caution:</strong> read | it</p><p>twice</p></div>\n'
        "<h2>Balloons</h2>\n"
        '<table><thead><tr><th scope="col">Balloon</th><th scope="col">Now</th><th scope="col">Seen by</th></tr>'
        "</thead>\n<tbody>\n"
        '<tr class="stands"><th scope="row">gastric</th>'
        '<td>was <span class="heard-only">struck: </span><del>200 mL</del> 250 mL</td><td></td></tr>\n'
        '<tr class="asked"><th scope="row">oesophageal</th><td><p>pressure</p><ul><li class="note">35 mmHg</li>'
        '<li class="high">45 mmHg</li></ul></td><td>twice<br>now</td></tr>\n'
        "</tbody></table>\n"
        "<p>It is <strong>up</strong></p>\n"
        "<h2>Drugs</h2>\n<p>None &amp; nothing.</p>\n<ul><li>one</li><li>two</li></ul>"
    )


def test_as_a_narrative_it_has_neither_classes_nor_deleted_text() -> None:
    found = html.for_narrative((BALLOONS, Figure("Chart", chart(good_case()))))
    assert 'was <span style="text-decoration: line-through">200 mL</span> 250 mL' in found
    assert not [word for word in ("class", "scope", "<del", "<svg", "<br>") if word in found]


def test_on_paper() -> None:
    (page,) = PdfReader(io.BytesIO(pages(good_case(), PAGE))).pages
    text = " ".join(page.extract_text().split())
    for words in ("State <now>", "Caution: read | it", "was 200 mL 250 mL", "pressure; 35 mmHg", "None & nothing."):
        assert words in text
    assert "____" not in text


def test_a_figure_stands_under_its_heading_and_text_leaves_out_both() -> None:
    figure = Figure("Chart of it", chart(good_case()))
    assert as_markdown(replace(PAGE, blocks=(*PAGE.blocks, figure))) == as_markdown(PAGE)
    assert html.for_page((figure,)).startswith('<h2>Chart of it</h2>\n<div class="wide"')


def test_blocks_belong_to_the_heading_above_them() -> None:
    found = list(sections((Paragraph("first"), *PAGE.blocks)))
    assert [one[0] for one in found] == [
        Paragraph("first"),
        Heading("State <now>", level=1),
        Heading("Balloons"),
        Heading("Drugs"),
    ]
    assert sum(map(len, found)) == len(PAGE.blocks) + 1


def test_a_section_without_rows_can_be_left_out() -> None:
    assert unless_empty("Drugs", table(("Drug",), ())) == ()
    assert unless_empty("Balloons", BALLOONS) == (Heading("Balloons"), BALLOONS)


def test_words_are_joined_without_what_is_empty() -> None:
    assert joined(("a", "", (Strong("b"), "c"))) == ("a", "; ", Strong("b"), "c")
    assert plain(Points((Item("b"), Item(("c", Struck("d")))), "a")) == "a; b; cd"
    assert in_one_line(BOX) == ""


@given(st.text(), st.sampled_from([str, Strong, Struck]))
@example("- one", str)
@example("12. twelve", str)
@example("---", str)
@example(" ", Struck)
@example("<script>", Strong)
def test_no_word_becomes_markup(text: str, look: type[str] | type[Strong] | type[Struck]) -> None:
    page = Document("Page", (Paragraph(look(text)), Table(("What",), ((look(text),),))))
    read = MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(as_markdown(page))
    allowed = {"p", "table", "thead", "tbody", "tr", "th", "td"}
    assert tags(read) <= allowed | {"strong", "s"}
    assert tags(html.for_page(page.blocks)) <= allowed | {"strong", "span", "del"}
    assert tags(html.for_narrative(page.blocks)) <= allowed | {"strong", "span"}


def tags(markup: str) -> set[str]:
    """The elements in it."""
    return {re.split(r"[ >]", part.removeprefix("/"))[0] for part in markup.split("<")[1:]}
