"""The page shows every line with what became of it, and reaches for nothing outside itself."""

from __future__ import annotations

import re
import socketserver
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest

from log.exports.deidentify import deidentified
from log.exports.tables import made_from
from log.exports.timeline import as_html
from log.exports.web_page import POLICY
from log.facts.events import (
    CaseResumed,
    EntryAmended,
    FindingAcknowledged,
    ListeningChanged,
    NoteWritten,
    SoundsRemoved,
)
from log.facts.origin import Origin
from log.facts.record import fold
from log.summaries.whole import Whole
from log.words.wording import SIGNS
from tests.cases import BEGAN, HOSTILE, SIGNER, case_of, facts_of, good_case, hostile_case, whole_of
from tests.log.exports.written import text_of
from tests.tui.browser import CHROMIUM, QUIET

VOID = {"meta", "br"}


class Page(HTMLParser):
    """A page taken apart; a tag that is not closed in its order is an error."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.rows: list[dict[str, str]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        known = {key: value or "" for key, value in attrs}
        assert len(known) == len(attrs)
        self.tags.append((tag, known))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "tr":
            self.rows.append({"class": known.get("class", ""), "text": ""})

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert "svg" in self.open, "only SVG closes its tags like this"
        self.tags.append((tag, {key: value or "" for key, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words.append(data)
        if "tr" in self.open:
            self.rows[-1]["text"] += f"{data} "

    def line(self, number: int) -> dict[str, str]:
        return next(row for row in self.rows if row["text"].startswith(f"{number} "))


@pytest.fixture(scope="module")
def good() -> Page:
    return Page(as_html(good_case()))


def test_the_page_is_well_formed_and_says_its_language_and_headings(good: Page) -> None:
    assert ("html", {"lang": "en"}) in good.tags
    assert [tag for tag, _ in good.tags if re.fullmatch(r"h\d", tag)] == ["h1", "h2", "h2", "h2"]
    assert [known["scope"] for tag, known in good.tags if tag == "th"].count("col") == 4 + 2
    assert [known["scope"] for tag, known in good.tags if tag == "th"].count("row") == len(good.rows) - 2


@pytest.mark.parametrize("make", [good_case, hostile_case, case_of])
def test_the_page_refers_to_nothing_and_runs_nothing(make: Callable[[], Whole]) -> None:
    text = as_html(make())
    page = Page(text)
    assert {tag for tag, _ in page.tags}.isdisjoint(
        {"script", "img", "link", "iframe", "object", "base", "form", "a", "b"}
    )
    for tag, known in page.tags:
        assert not {"href", "src", "srcset", "style", "xlink:href"} & set(known)
        assert not any(key.startswith("on") for key in known)
        if tag != "meta":
            assert not any("://" in value for value in known.values())
    style = re.search(r"<style>(.*?)</style>", text, re.DOTALL)
    assert style and not re.search(r"url\(|@import|http", style[1])
    assert "http" not in re.sub(r"http-equiv|http://e\.invalid", "", text)
    assert ("meta", {"http-equiv": "Content-Security-Policy", "content": POLICY}) in page.tags


def test_cautions_stand_first_and_the_fingerprint_last(good: Page) -> None:
    case = good_case()
    words = "".join(good.words)
    for caution in case.procedure.cautions:
        assert 0 < words.index(caution) < words.index("Chart")
    assert case.head is not None
    wanted = f"log SHA-256 {case.head.sha256}, {len(case.links)} facts"
    assert made_from(case) == wanted and wanted in words
    unsigned = whole_of(facts_of([(1, "tube in")]), signer=None)
    assert made_from(unsigned) == f"log SHA-256 {unsigned.links[-1].sha256}, {len(unsigned.links)} facts"


def test_every_line_is_there_once_in_order_with_elapsed_and_clock_time(good: Page) -> None:
    numbers = [int(row["text"].split()[0]) for row in good.rows if row["class"] in ("stands", "struck", "asked")]
    assert numbers == list(range(1, 28))
    assert "0:04:00 2026-10-04 14:04:00+02:00 gastric volume in 50 mL" in good.line(8)["text"]


def test_status_is_shown_in_words(good: Page) -> None:
    assert good.line(20)["text"].rstrip().endswith("stands, corrected")
    assert good.line(25)["text"].rstrip().endswith("struck") and good.line(25)["class"] == "struck"
    assert good.line(26)["text"].rstrip().endswith("not confirmed")
    assert "gastric volume in 50 mL or gastric volume in 15 mL?" in good.line(26)["text"]


def test_what_was_struck_is_struck_through_and_said_to_be() -> None:
    text = as_html(good_case())
    assert '<span class="heard-only">struck: </span><del>gastric volume in 150 mL</del>' in text
    assert 'oesophageal pressure <span class="heard-only">struck: </span><del>60 mmHg</del> 35 mmHg' in text


def test_corrections_have_their_time_author_and_reason(good: Page) -> None:
    corrected = good.line(20)["text"]
    assert "60 mmHg  35 mmHg" in corrected
    assert "amended 14:17:30, corrected by the operator" in corrected
    assert '(scribe, typed: "correct last to three five")' in corrected


def test_an_entry_that_was_moved_says_from_when() -> None:
    facts = facts_of([(100, "tube in")])
    at = BEGAN + timedelta(hours=1)
    moved = EntryAmended(
        logged_at=at,
        number=1,
        entry=facts[1].entry,  # type: ignore[union-attr,arg-type]
        said_at=at,
        reason="the clock on the wall",
        origin=Origin(by="typed", author="night nurse"),
        happened_at=BEGAN - timedelta(minutes=5),
    )
    page = Page(as_html(whole_of([*facts, moved])))
    text = page.line(1)["text"]
    assert "-0:05:00 2026-10-04 13:55:00+02:00" in text and "time was 14:01:40" in text
    assert "the clock on the wall (night nurse, typed)" in text
    assert page.rows[1]["text"].startswith("1 "), "it stands before the opening"


def test_findings_stand_beside_their_line_with_word_and_sign(good: Page) -> None:
    text = good.line(22)["text"]
    assert f"{SIGNS['high']} high priority:" in text and "above the limit (at most 45 mmHg)" in text
    assert (
        "settled 14:19:00: back in range: line 23" in text
        and "settled 14:17:30: line 20 was corrected" in good.line(20)["text"]
    )


def test_gaps_late_entries_and_what_was_not_understood_are_there(good: Page) -> None:
    others = [row["text"] for row in good.rows if row["class"] == "other"]
    assert any("nothing could be heard for 9.0 s: the microphone was unplugged" in text for text in others)
    assert any("mind the cable please" in text and "no entry: nothing recognised" in text for text in others)
    assert any("the log was closed: ended by the scribe" in text for text in others)
    assert "late entry , written down 14:36:40" in good.line(27)["text"]


def test_who_took_the_log_up_again_and_what_was_removed_is_reported() -> None:
    at = BEGAN + timedelta(hours=2)
    resumed = CaseResumed(
        logged_at=at,
        software="s",
        source="typed",
        author="second scribe",
        public_key=SIGNER.public_key,
        signature_before="",
        clock_set_back_s=90,
    )
    removed = SoundsRemoved(logged_at=at, sha256=("0" * 64,), reason="asked for", author="records")
    text = as_html(whole_of([*facts_of([(1, "tube in")]), resumed, removed]))
    assert "the log was resumed (the machine's clock read 90 s less" in text and "by second scribe" in text
    assert "sounds were removed (asked for) by records" in text


def test_notes_what_somebody_has_seen_and_how_it_listened_are_there() -> None:
    facts = facts_of([(1, "tube in"), (20, "oesophageal pressure six zero")])
    at = BEGAN + timedelta(minutes=5)
    found = fold(facts).open_findings[0]
    seen = FindingAcknowledged(
        logged_at=at, rule=found.rule, number=found.number, message=found.message, reason="known", author="scribe B"
    )
    notes = [
        NoteWritten(logged_at=at, text=text, number=number, said_at=at, author="scribe B")
        for text, number in (("read twice <b>", 2), ("the ward is cold", None))
    ]
    heard = ListeningChanged(logged_at=at, mode="lead word", lead_word="log", author="operator")
    page = Page(as_html(whole_of([*facts, seen, *notes, heard])))
    assert found.number is not None
    assert "still open ; acknowledged 14:05:00 by scribe B: known" in page.line(found.number)["text"]
    assert 'note by scribe B, written down 14:05:00: "read twice <b>"' in page.line(2)["text"]
    others = [row["text"] for row in page.rows if row["class"] == "other"]
    assert any('"the ward is cold"' in text and text.rstrip().endswith("note") for text in others)
    assert any('listening: lead word "log" by operator' in text for text in others)


def test_whatever_kind_of_fact_there_is_the_page_shows_it() -> None:
    page = Page(text_of("every kind of fact", "timeline"))
    others = [row["text"] for row in page.rows if row["class"] == "other"]
    for told in (
        "beside no line ! low priority:  hours [derived] none (settled 15:00:00: over) finding",
        'note by nurse, written down 15:00:00: "the ward is cold" note',
        "identifiers were removed (kept long enough) by records log",
        "The film is back. played by the simulation, no entry",
    ):
        assert any(told in text for text in others), told
    assert 'spoken note, 6 s, transcribed: "the family agree"' in page.line(2)["text"]
    assert "Speech that was not for the log was kept: 1 clip." in page.words


def test_hostile_words_are_read_and_do_nothing() -> None:
    text = as_html(hostile_case())
    page = Page(text)
    assert "</td><script>x()</script> **b**" in "".join(page.words)
    assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b\u202e]", text)
    assert sum(bool(row["class"]) for row in page.rows) == 3 + 3, "three lines; opened, not understood, closed"
    assert HOSTILE not in text


def test_a_case_without_identity_has_no_date_and_no_fingerprint() -> None:
    case, _ = deidentified(good_case())
    text = as_html(case)
    assert not re.search(r"\d\d:\d\d:\d\d\+\d\d|2026-\d\d|[0-9a-f]{64}|scribe@", text)
    assert f"identity removed, {len(case.links)} facts" in text
    assert "0:04:00" in Page(text).line(8)["text"]


def test_the_chart_is_in_the_page() -> None:
    text = as_html(good_case())
    svg = text[text.index("<svg") : text.index("</svg>") + 6]
    root = ElementTree.fromstring(svg)
    named = (root.get("aria-labelledby") or "").split()
    assert [element.get("id") for element in root if element.tag in ("title", "desc")] == named
    classes = {name for element in root for name in (element.get("class") or "").split()} - {"line", "shape"}
    assert all(f".{name}" in text for name in classes), "each has a colour for the dark"


# In a browser: what the page is after it has been laid out, and that it asks the network for nothing.


@contextmanager
def recording_proxy() -> Iterator[tuple[int, list[bytes]]]:
    """A proxy that lets nothing through and keeps what it was asked for."""
    asked: list[bytes] = []

    class Refuse(socketserver.StreamRequestHandler):
        def handle(self) -> None:
            asked.append(self.rfile.readline())

    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), Refuse) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield server.server_address[1], asked
        server.shutdown()
        thread.join()


def browse(page: Path, folder: Path, *wanted: str) -> tuple[str, list[str]]:
    """What the browser says of the page, and the hosts it asked the network for that stand in the page. (It also asks
    for hosts of its own: the time, updates. A page cannot make it ask for one that is not written in it.)"""
    if CHROMIUM is None:
        pytest.skip("there is no chromium on this machine")
    with recording_proxy() as (port, asked):
        proxy = (f"--proxy-server=127.0.0.1:{port}", "--proxy-bypass-list=<-loopback>")
        command = [
            CHROMIUM,
            *QUIET,
            "--virtual-time-budget=2000",
            f"--user-data-dir={folder / 'profile'}",
            *proxy,
            *wanted,
            page.as_uri(),
        ]
        done = subprocess.run(command, capture_output=True, text=True, timeout=90, check=True)
    hosts = {match[1].decode() for line in asked if (match := re.match(rb"\w+ (?:\w+://)?([^/: ]+)", line))}
    text = page.read_text(encoding="utf-8")
    return done.stdout, sorted(host for host in hosts if host in text)


@pytest.mark.slow
@pytest.mark.parametrize("make", [good_case, hostile_case])
def test_in_a_browser_the_table_is_there_and_nothing_is_fetched(make: Callable[[], Whole], tmp_path: Path) -> None:
    page = tmp_path / "case.html"
    page.write_text(as_html(make()), encoding="utf-8")
    seen, asked = browse(page, tmp_path, "--dump-dom")
    assert seen.count("<tr") == as_html(make()).count("<tr") > 3
    assert seen.count("<th scope=") == as_html(make()).count("<th scope=")
    assert "<svg" in seen and "<script" not in seen
    assert asked == []


def test_the_proxy_would_have_seen_a_reference(tmp_path: Path) -> None:
    page = tmp_path / "case.html"
    page.write_text('<p><img src="http://reference.invalid/x.png"></p>', encoding="utf-8")
    _, asked = browse(page, tmp_path, "--dump-dom")
    assert asked == ["reference.invalid"]


@pytest.mark.slow
@pytest.mark.parametrize("width", [360, 1200])
def test_in_a_browser_it_is_no_wider_than_the_window(width: int, tmp_path: Path) -> None:
    # scripts do not run under the page's policy, so the measuring is done from a page that shows it in a frame
    shown = as_html(hostile_case()).replace(POLICY, "style-src 'unsafe-inline'")
    (tmp_path / "case.html").write_text(shown, encoding="utf-8")
    measure = tmp_path / "measure.html"
    measure.write_text(
        f'<iframe id="f" src="case.html" style="width:{width}px;height:900px;border:0"></iframe><p id="p"></p>'
        "<script>f.onload = () => { p.textContent = `wide ${f.contentDocument.documentElement.scrollWidth}` }</script>"
    )
    seen, _ = browse(measure, tmp_path, "--dump-dom", "--allow-file-access-from-files", "--window-size=1400,1000")
    found = re.search(r"wide (\d+)", seen)
    assert found and int(found[1]) <= width
