"""The bedside page: who is let in, what they see, and that it follows the case or says that it does not."""

from __future__ import annotations

import contextlib
import http.client
import re
import signal
import socket
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("starlette")
pytest.importorskip("uvicorn")

from log.basics.entry import Entry, Understood
from log.facts.origin import Origin
from log.scribe.session import Session
from log.store.folder import case_names
from tests.cases import HOSTILE
from tests.tui.browser import browser
from tests.tui.conftest import Run
from tests.tui.serving import WITHIN, Served, event, opened, say, wait_for
from tui.commands.serve import command
from tui.serve.half_open import ASKS_WITHIN, MOST_OPEN


@pytest.fixture
def session(tmp_path: Path) -> Iterator[Session]:
    session = opened(tmp_path)
    yield session
    session.case.close()


@pytest.fixture
def served(session: Session, tmp_path: Path) -> Iterator[Served]:
    served = Served(tmp_path)
    yield served
    if served.process.poll() is None:
        assert served.end() == (0, "")


def tells_nothing(answer: http.client.HTTPResponse, text: str, status: int = 403) -> None:
    assert answer.status == status
    assert answer.headers["Content-Type"] == "text/plain; charset=utf-8"
    assert "Set-Cookie" not in answer.headers
    assert not re.search("bay-4|bed by|tube|entry", text, re.IGNORECASE)


def headers_are_there(answer: http.client.HTTPResponse) -> None:
    policy = answer.headers["Content-Security-Policy"]
    assert policy.startswith("default-src 'none'; ") and "unsafe" not in policy and "connect-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["Cache-Control"] == "no-store"
    assert "Server" not in answer.headers


# ---- who is let in --------------------------------------------------------------------------------------------------


def test_without_the_token_nothing_of_the_case_is_shown(served: Served) -> None:
    for path in ("/", "/events", "/?token=", "/?token=%C3%A9", "/events?token=x", "/../../etc/passwd", "/bay-4.case"):
        answer, text = served.ask(path)
        tells_nothing(answer, text)
        headers_are_there(answer)


def test_the_token_opens_once_and_the_cookie_from_then_on(served: Served) -> None:
    tells_nothing(*served.ask(served.ticket.replace("/?", "/events?")))
    tells_nothing(*served.ask(served.ticket, "HEAD"))
    answer, page = served.ask(served.ticket)
    assert answer.status == 200 and "bay-4" in page
    headers_are_there(answer)
    cookie = answer.headers["Set-Cookie"]
    assert cookie.endswith("; Path=/; HttpOnly; SameSite=Strict") and "Domain" not in cookie
    tells_nothing(*served.ask(served.ticket))
    served.cookie = cookie.partition(";")[0]
    again, _ = served.ask()
    assert again.status == 200 and "Set-Cookie" not in again.headers
    assert served.ask(served.ticket)[0].status == 200, "the same browser may go back to it"
    name = served.cookie.partition("=")[0]
    for wrong in (f"{name}=", f"{name}=x", f"{name}={served.ticket.partition('=')[2]}", "=" * 50):
        tells_nothing(*served.ask(cookie=wrong))


def test_connections_on_which_nothing_is_asked_keep_no_browser_out(served: Served) -> None:
    silent = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(MOST_OPEN + 20)]
    for half in silent[::2]:
        with contextlib.suppress(OSError):  # made room for a newer one
            half.sendall(b"GET / HTTP/1.1\r\nHost:")
    assert "bay-4" in served.enter()
    assert event(served.begin("/events"))["sections"]
    time.sleep(ASKS_WITHIN + 0.5)
    for half in silent:
        with contextlib.suppress(OSError):
            half.settimeout(1)
            assert half.recv(1) == b"", "closed"
        half.close()


def test_another_name_for_this_machine_is_refused(served: Served) -> None:
    port = served.port
    others = ("rebound.invalid", f"rebound.invalid:{port}", "127.0.0.1", "127.0.0.1:1", f"x@127.0.0.1:{port}")
    for host in others:
        tells_nothing(*served.ask(served.ticket, host=host))
    served.enter()
    for host in others:
        tells_nothing(*served.ask(host=host))
    assert served.ask(host=f"localhost:{port}")[0].status == 200


def test_the_page_is_only_read(served: Served) -> None:
    methods = ("POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE")
    for method in methods:
        answer, text = served.ask(served.ticket, method)
        tells_nothing(answer, text, 405)
        assert answer.headers["Allow"] == "GET, HEAD"
    served.enter()
    assert [served.ask(method=method)[0].status for method in methods] == [405] * len(methods)
    head, nothing = served.ask(method="HEAD")
    assert (head.status, nothing) == (200, "")
    head, nothing = served.ask("/events", "HEAD")
    assert (head.status, nothing, head.headers["Content-Type"]) == (200, "", "text/event-stream; charset=utf-8")


def test_there_are_no_files(served: Served) -> None:
    served.enter()
    for path in ("/bedside.css", "/../../etc/passwd", "/%2e%2e/app.py", "//etc/passwd", "/bay-4.case", "/favicon.ico"):
        answer, text = served.ask(path)
        tells_nothing(answer, text, 404)
        headers_are_there(answer)


# ---- what they see --------------------------------------------------------------------------------------------------


def test_hostile_words_are_read_and_do_nothing(session: Session, served: Served) -> None:
    mean = Entry(kind="note", site=HOSTILE, value=HOSTILE, unit=HOSTILE, detail=HOSTILE)
    session.take(Understood(items=(mean,)), 70, 70, Origin(by="typed", author=HOSTILE, heard=HOSTILE))
    session.gap(80, 9, f"gap {HOSTILE}")
    page = served.enter()
    told = "".join(event(served.begin("/events"))["sections"].values())
    for text in (page, told):
        assert "&lt;script&gt;x()" in text and "<script>x" not in text and "<b>|" not in text and "</td>" not in text
        assert not re.search("[\x00-\x09\x0b-\x1f\x7f-\x9f\u200b\u202e]", text)
    assert page.count("<script>") == page.count("</script>") == 1
    assert not re.search(r"\son\w+=|\sstyle=|\shref=|\ssrc=|url\(|@import", page)


def test_what_the_room_has_to_see_is_there(session: Session, served: Served) -> None:
    say(session, 100, "gastric three zero zero in")
    say(session, 200, "gastric in fifty")
    page = served.enter()
    for caution in session.procedure.cautions:
        assert caution.replace("'", "&#x27;") in page
    for text in (
        "Case bay-4", "bed by the door", "NOT LIVE", "ASKED", "film ✘ not logged", "? not confirmed: line ",
        '<span class="value">50</span> <small>or</small> <span class="value">15</span> ?',
        "50 and 15 sound alike", "&quot;one five&quot; for 15 mL", "300 mL", "ABOVE ITS LIMIT", "at most 50 mL",
        "traction", "X-ray", "not logged", "<svg", "since the tube went in", "due in", "!!! </span>high priority:",
    ):  # fmt: skip
        assert text in page, text


def test_what_another_program_appends_is_sent_by_itself(session: Session, served: Served) -> None:
    served.enter()
    events = served.begin("/events")
    assert events.headers["Content-Type"].startswith("text/event-stream")
    headers_are_there(events)
    assert set(event(events)["sections"]) >= {"last", "now", "clocks", "chart"}
    for number, words in enumerate(("three one", "three two", "three three")):
        say(session, 300 + number, f"oesophageal pressure {words}")
        wait_for(events, "last", f">3{number + 1}</span>")
    times = {event(events)["sections"].get("now") for _ in range(3)}
    assert len(times) == 3, "the time of day goes on"
    session.close(1200, "ended by the scribe")
    wait_for(events, "case", "THE LOG IS CLOSED")


def test_a_case_that_is_gone_is_reported(session: Session, served: Served) -> None:
    served.enter()
    events = served.begin("/events")
    event(events)
    session.case.path.unlink()
    began = time.monotonic()
    while not (told := event(events)["trouble"]):
        assert time.monotonic() - began < WITHIN
    assert "no longer there" in told


# ---- the command ----------------------------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.parametrize(("by", "code"), [(signal.SIGTERM, 0), (signal.SIGINT, 130)])
def test_it_ends_when_asked_to_and_the_page_with_it(
    session: Session, tmp_path: Path, by: signal.Signals, code: int
) -> None:
    served = Served(tmp_path)
    served.enter()
    events = served.begin("/events")
    event(events)
    ended, err = served.end(by)
    assert (ended, err.strip()) == (code, "")


@pytest.fixture
def serve(run: Run, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Any]:
    """The command in this process, for what ends before anything is served."""
    monkeypatch.setattr("tui.cli.COMMANDS", {"serve": ("serve:command", "")})
    return lambda *arguments: run("serve", *arguments)


def test_a_port_that_is_taken_is_reported(session: Session, serve: Callable[..., Any], tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        serve("bay-4", "--cases", tmp_path, "--port", port).refused(1, f"port {port}", "--port")


def test_a_case_that_is_not_there_is_reported(serve: Callable[..., Any], tmp_path: Path) -> None:
    serve("nobody", "--cases", tmp_path).refused(3, "nobody")


def test_a_host_that_others_reach_wants_a_word(session: Session, serve: Callable[..., Any], tmp_path: Path) -> None:
    for host in ("0.0.0.0", "::", "192.0.2.7", "elsewhere.invalid"):
        assert serve("bay-4", "--cases", tmp_path, "--host", host).code == 2
    ran = serve("bay-4", "--cases", tmp_path, "--host", "192.0.2.7", "--unencrypted")
    assert ran.code == 1 and "not encrypted" in ran.err and "--host" in ran.err


def test_without_the_packages_the_remedy_is_shown(
    session: Session, serve: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "tui.serve.access", None)
    serve("bay-4", "--cases", tmp_path).refused(1, "pip install 'tamponade-log[serve]'")


def test_the_help_says_how_to_end_it() -> None:
    assert "Ctrl-C" in (command.help or "")


# ---- in a browser ---------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_in_a_browser_it_follows_and_says_when_it_cannot(session: Session, served: Served, tmp_path: Path) -> None:
    with browser(tmp_path) as page:
        page.window(1920, 1080)
        page.open(f"http://127.0.0.1:{served.port}/")
        page.wait(lambda: "one browser" in page.text())
        assert "bay-4" not in page.text() and "tube" not in page.text().lower()

        page.open(served.address)
        page.wait(lambda: page.run("document.body?.dataset.live") == "yes")
        assert "token" not in page.run("location.href") and "NOT LIVE" not in page.text()
        say(session, 700, "gastric two five zero in")
        page.wait(lambda: page.run("document.querySelector('.value').textContent") == "250")
        high = page.run("parseFloat(getComputedStyle(document.querySelector('.value')).fontSize) / innerHeight")
        assert high >= 0.2
        seen = page.run("document.querySelector('#clocks').innerText")
        page.wait(lambda: page.run("document.querySelector('#clocks').innerText") != seen)
        for width, height in ((1920, 1080), (400, 800), (320, 568)):
            page.window(width, height)
            assert page.run("document.documentElement.scrollWidth") <= width
            assert page.run("(f => f.scrollWidth <= f.clientWidth)(document.querySelector('.figure'))")

        served.process.send_signal(signal.SIGSTOP)
        assert page.wait(lambda: "NOT LIVE" in page.text()) < 3
        served.process.send_signal(signal.SIGCONT)
        page.wait(lambda: "NOT LIVE" not in page.text())
        assert served.end() == (0, "")
        assert page.wait(lambda: "NOT LIVE" in page.text()) < 3
        assert "connection is lost" in page.text()


def test_a_closed_case_is_served_from_its_file(session: Session, tmp_path: Path) -> None:
    session.close(700, "ended by the scribe")
    assert not session.case.path.with_name("bay-4.case-wal").exists()
    served = Served(tmp_path, str(session.case.path))
    assert "THE LOG IS CLOSED" in served.enter()
    assert served.end() == (0, "")
    assert case_names(tmp_path) == ("bay-4",)
