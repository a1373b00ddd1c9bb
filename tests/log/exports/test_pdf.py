"""The note on paper says what the Markdown note says, on every page whose log it is, and is the same to the byte."""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
import unicodedata
from importlib.resources import files
from io import BytesIO
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PageObject, PdfReader
from pypdf.generic import DictionaryObject
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfbase.pdfmetrics import stringWidth

from log.exports.chart import WIDTH, chart
from log.exports.document import Document, Heading, Paragraph, Table, plain
from log.exports.lettering import PLAIN, legible
from log.exports.note import as_note, note
from log.exports.paper_chart import as_drawing
from log.exports.pdf import as_pdf, one_page
from log.exports.tables import made_from
from log.exports.timeline import as_html
from log.exports.typesetting import SMALL, _table, column_widths
from log.summaries.whole import Paper
from tests.cases import HOSTILE, case_of, facts_of, good_case, whole_of
from tests.log.exports.written import case, pages, reader, written

ROOT = Path(__file__).parents[3]


def words(name: str = "good") -> str:
    """All text of all pages, with single spaces."""
    return " ".join(" ".join(page.text.split()) for page in pages(name))


def on_page(text: str) -> list[PageObject]:
    """The pages of the good case on which this stands."""
    found = zip(reader("good").pages, pages("good"), strict=True)
    return [page for page, read in found if text in " ".join(read.text.split())]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["good", "letter", "hostile", "empty", "long"])
def test_every_page_has_case_title_caution_fingerprint_and_number(name: str) -> None:
    for number, page in enumerate(pages(name), 1):
        text = page.text
        assert text.startswith("Case 20261004-140000\nThree-lumen balloon tamponade tube\n")
        assert "Not a medical device. It is an aid to memory and to record-keeping" in text
        assert re.search(r"log SHA-256 [0-9a-f]{64}, \d+ facts", text)
        assert f"page {number} of {len(pages(name))}\n" in f"{text}\n"


def test_the_fingerprint_is_that_of_the_head() -> None:
    case = good_case()
    assert case.head is not None
    assert f"log SHA-256 {case.head.sha256}, {len(case.links)} facts" in words()


@pytest.mark.parametrize(("paper", "size"), [("a4", A4), ("letter", LETTER)])
def test_paper(paper: Paper, size: tuple[float, float]) -> None:
    for page in reader("good" if paper == "a4" else "letter").pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(size, abs=0.01)


@pytest.mark.parametrize(("hours", "charts"), [(11, ["Chart"]), (13, ["Chart", "Chart of the last 12 hours"])])
def test_a_case_longer_than_a_night_shift_has_its_last_hours_as_a_chart_of_their_own(
    hours: int, charts: list[str]
) -> None:
    long = case_of((5, "tube passed"), (60, "gastric in five zero"), (hours * 3600, "gastric pressure two zero"))
    lines = [line for page in PdfReader(BytesIO(as_pdf(long))).pages for line in page.extract_text().splitlines()]
    assert [line for line in lines if line.startswith("Chart")] == charts


def entries(of: DictionaryObject, name: str) -> DictionaryObject:
    """A dictionary within one; empty if it is not there."""
    found = of.get(name, DictionaryObject()).get_object()
    assert isinstance(found, DictionaryObject)
    return found


def fonts(page: DictionaryObject) -> dict[str, bool]:
    """The fonts of a page and of the forms on it, and whether each is embedded."""
    resources = entries(page, "/Resources")
    forms = [entries(entries(resources, "/XObject"), name) for name in entries(resources, "/XObject")]
    of_all = [entries(found, "/Font") for found in (resources, *(entries(form, "/Resources") for form in forms))]
    known = [entries(found, name) for found in of_all for name in found]
    return {str(font["/BaseFont"]): "/FontFile2" in entries(font, "/FontDescriptor") for font in known}


@pytest.mark.parametrize("name", ["good", "hostile", "long"])
def test_all_fonts_are_embedded(name: str) -> None:
    found = {font: embedded for page in reader(name).pages for font, embedded in fonts(page).items()}
    assert all(found.values()), found
    assert {font.partition("+")[2] for font in found} == {"DejaVuSans", "DejaVuSans-Bold"}


def test_the_font_files_are_small_and_come_with_their_licence() -> None:
    folder = files("log.exports") / "fonts"
    assert all(
        len((folder / f"{name}-subset.ttf").read_bytes()) < 300_000 for name in ("DejaVuSans", "DejaVuSans-Bold")
    )
    assert "Bitstream Vera Fonts Copyright" in (folder / "LICENSE-DejaVu.txt").read_text(encoding="utf-8")


def texts(document: Document) -> list[str]:
    """What stands in the tables, paragraphs and headings of a document."""
    found: list[str] = []
    for block in document.blocks:
        match block:
            case Heading():
                found.append(block.text)
            case Paragraph():
                found.append(plain(block.words))
            case Table():
                found += [*block.head, *(plain(cell) for cells in block.rows for cell in cells)]
    return found


def test_everything_in_the_note_is_on_paper() -> None:
    squeezed = words().replace(" ", "")
    for text in texts(note(good_case())):
        assert "".join(text.split()) in squeezed or len(text) > 60, text  # long ones may run over a page


def test_the_chart_stands_after_the_totals() -> None:
    text = words()
    assert text.index("Running clock") < text.index("Chart Volume, mL") < text.index("Timeline Line Elapsed")
    for label in ("≤ 300 mL gastric volume", "gastric 250 mL", "2 0:02:30 tube in (line 5)"):
        assert label in text
    [page] = on_page("Volume, mL")
    contents = page.get_contents()
    assert contents is not None
    assert contents.get_data().count(b"] 0 d") > 10, "dashes"


def test_the_drawing_is_the_chart_upside_down() -> None:
    picture = chart(good_case())
    drawing = as_drawing(picture)
    assert (drawing.width, drawing.height) == (picture.width, picture.height)
    assert len(drawing.contents) == len(picture.parts)
    first = next(part for part in picture.parts if hasattr(part, "points"))
    drawn = next(shape for shape in drawing.contents if hasattr(shape, "points"))
    assert drawn.points[:2] == [first.points[0][0], picture.height - first.points[0][1]]


def test_struck_text_has_a_line_through_it() -> None:
    """The line is as long as the text and at a third of its height above the base line."""
    [page] = on_page("gastric volume in 150 mL")
    contents = page.get_contents()
    assert contents is not None
    width = stringWidth("gastric volume in 150 mL", PLAIN, SMALL)
    lengths = [
        float(x2) - float(x1)
        for x1, y1, x2, y2 in re.findall(rb"([\d.]+) ([\d.]+) m ([\d.]+) ([\d.]+) l S", contents.get_data())
        if y1 == y2
    ]
    assert any(length == pytest.approx(width, abs=0.5) for length in lengths)


def test_every_line_of_a_long_case_is_there() -> None:
    found = re.findall(
        r"(?m)^(\d+)\n\d+:\d\d:\d\d\n(?:\d\d-\d\d )?\d\d:\d\d:\d\d\n", "\n".join(page.text for page in pages("long"))
    )
    assert [int(number) for number in found] == list(range(1, 301))


def test_a_table_over_several_pages_repeats_its_head() -> None:
    texts = [page.text for page in pages("long")]
    timeline = [text for text in texts if "gastric clamp on" in text and "Steps" not in text]
    assert len(timeline) > 5
    assert all("Line\nElapsed\nTime\nEntry\nLed to\nHeard\nMarks" in text for text in timeline)


def test_no_heading_is_left_alone_at_the_foot_of_a_page() -> None:
    headings = {"Chart", *re.findall(r"(?m)^## (.*)$", as_note(good_case()))}
    for name in ("good", "letter", "empty", "hostile", "long"):
        for page in pages(name):
            found = page.placed
            foot = max(y for y, text in found if text.startswith("Not a medical device") and y < 100)
            for y, text in found:
                if text in headings:
                    assert any(foot < other < y for other, _ in found), (name, text)


def test_a_cell_longer_than_a_page_and_a_word_wider_than_a_column() -> None:
    heard = "blood " * 3000 + "w" * 2000 + " end-of-it"
    reader = PdfReader(BytesIO(as_pdf(whole_of(facts_of([(1, "tube in"), (2, "mind the cable")], heard=heard)))))
    text = "".join(page.extract_text() for page in reader.pages)
    assert text.count("blood") == 2 * 3000 and "".join(text.split()).count("w" * 50) >= 2
    assert "".join(text.split()).count("end-of-it") == 2
    assert len(reader.pages) > 8


def test_a_row_hardly_higher_than_what_is_left_of_a_page_is_broken_too() -> None:
    table = _table(Table(head=("Line", "Why"), rows=(("1", "blood " * 1200),)), 510.0)
    _, height = table.wrap(510.0, 1000.0)
    for left in range(int(height) - 70, int(height), 3):
        assert len(table.split(510.0, left)) == 2, f"{left} of {height}"


def test_hostile_words_stay_words_and_what_has_no_glyph_is_its_code_point() -> None:
    text = words("hostile")
    assert "<b>|</b> </td><script>x()</script> **b** ~~f~~ &amp; [U+1F480] [U+4E2D] [U+05D0]" in text
    assert "\x1b" not in text and "\u202e" not in text
    assert HOSTILE not in text


@given(st.text())
def test_any_text_can_be_set(text: str) -> None:
    found = legible(text)
    assert all(f"[U+{ord(sign):04X}]" in found or sign in found for sign in unicodedata.normalize("NFC", text))
    assert stringWidth(found, PLAIN, 7) >= 0


@pytest.mark.parametrize(
    "text", ["Zażółć gęślą jaźń", "Προσοχή", "Внимание", "≤ 45 mmHg → ½ × 2 µg", "naïve – “so”…", "☐ ✓ ▲"]
)
def test_european_writing_and_signs_are_in_both_faces(text: str) -> None:
    assert legible(text) == unicodedata.normalize("NFC", text)


@pytest.mark.parametrize(
    ("text", "shown"),
    [("\x00", "[U+0000]"), ("\ud800", "[U+D800]"), ("العربية", "[U+0627]"), ("e\u0301", "é"), ("👩‍⚕️", "[U+1F469]")],
)
def test_what_cannot_be_shown_is_named(text: str, shown: str) -> None:
    assert legible(text).startswith(shown)


def test_a_case_without_identity_has_no_fingerprint() -> None:
    for page in pages("without identity"):
        assert "identity removed, " in page.text
    assert not re.search(r"[0-9a-f]{64}|2026-\d\d", words("without identity"))
    assert "SHA-256" not in made_from(case("without identity"))


def test_there_is_room_to_write_and_to_sign() -> None:
    """Rows of the signature table, from line to line; the author signs on the first page."""
    first, further = [page for page in pages("good") if "Name in print" in page.text]
    assert first is pages("good")[0] and "Author of" in first.text
    at = {text: y for y, text in reversed(further.placed)}  # the first of each: some stand among the blanks too
    people = [at[name] for name in ("Operator", "Scribe", "Countersigned")]
    assert all(above - below >= 36 - 1e-6 for above, below in pairwise(people)), "but for the dust of floating point"


def test_column_widths_fill_the_page_and_no_ordinary_word_is_broken() -> None:
    texts = [["Line", "Elapsed", "Time", "Entry", "Led to", "Heard", "Marks"], ["12", "0:12:00"]]
    texts[1] += [
        "2026-10-04 14:12:00+02:00",
        "oesophageal volume in 40 mL",
        "oesophageal 40 mL",
        "typed: " + "so " * 50,
        "",
    ]
    widths = column_widths(texts, WIDTH)
    assert sum(widths) == pytest.approx(WIDTH)
    for column, width in zip(zip(*texts, strict=True), widths, strict=True):
        for word in (word for text in column for word in text.split()):
            assert stringWidth(word, PLAIN, SMALL) <= width - 6


@given(st.lists(st.lists(st.text(max_size=300), min_size=4, max_size=4), min_size=1, max_size=5))
def test_columns_never_run_off_the_page(texts: list[list[str]]) -> None:
    widths = column_widths([[legible(text) for text in row] for row in texts], WIDTH)
    assert sum(widths) == pytest.approx(WIDTH) and all(width > 6 for width in widths)


def test_the_document_has_title_author_and_language_but_no_time() -> None:
    told = reader("good").metadata
    assert told is not None
    assert told.title == "Procedure note: Three-lumen balloon tamponade tube, case 20261004-140000"
    assert told.author == "scribe" and told.subject == made_from(good_case())
    assert not told.get("/CreationDate") and not told.get("/ModDate")
    assert str(entries(reader("good").trailer, "/Root")["/Lang"]) == "en-GB"


@pytest.mark.slow
def test_the_same_bytes_come_from_another_process_with_other_hashes() -> None:
    program = (
        "import hashlib; from tests.cases import good_case; from log.exports.pdf import as_pdf; "
        "from log.exports.timeline import as_html; c = good_case(); "
        "print(hashlib.sha256(as_pdf(c)).hexdigest(), hashlib.sha256(as_html(c).encode()).hexdigest())"
    )
    there = subprocess.run(
        [sys.executable, "-c", program],
        env={**os.environ, "PYTHONHASHSEED": "2", "TZ": "Asia/Tokyo"},
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    page = written("good", "pdf")
    assert isinstance(page, bytes)
    here = (page, as_html(good_case()).encode())
    assert there.stdout.split() == [hashlib.sha256(one).hexdigest() for one in here]


def test_one_page_is_the_fullest_text_that_it_holds_else_the_last_made_smaller() -> None:
    case = good_case()
    short, long, longer = (
        Document("Page", tuple(Paragraph(f"line {n}") for n in range(count))) for count in (10, 90, 140)
    )
    found = [
        PdfReader(BytesIO(one_page(case, documents))).pages for documents in ((longer, long, short), (longer, long))
    ]
    assert [len(pages) for pages in found] == [1, 1]
    assert "line 9" in found[0][0].extract_text() and "line 10" not in found[0][0].extract_text()
    assert "line 89" in found[1][0].extract_text()
