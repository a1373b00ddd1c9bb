"""Corrections from the command line: strike, amend, enter late, move in time, transcribe a note, name the patient."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from shutil import get_terminal_size
from typing import Any, TypeVar

import click

from log.scribe.opening import resume, shift_clock
from log.scribe.session import TYPED, Session, wall_clock
from log.store.folder import cases_folder, find_case
from log.store.identifiers import Identifiers
from tui.commands.options import cases_option
from tui.live.door import asked_of_the_room
from tui.live.request import Request, performed, shifted
from tui.views.read_back import ReadBack, unverified
from tui.views.times import shift_s
from voice.phrases.phrases import compile_phrases

F = TypeVar("F", bound=Callable[..., Any])

author_option = click.option("--author", required=True, metavar="WHO", help="Who corrects; it stands in the log.")
reason_option = click.option("--reason", required=True, metavar="TEXT", help="Why; it stands in the log.")


@click.command("strike", short_help="Strike a line; it stays readable.")
@click.argument("case")
@click.argument("line", type=click.IntRange(1))
@author_option
@reason_option
@cases_option
def strike(case: str, line: int, author: str, reason: str, cases: Path | None) -> None:
    """Strike LINE of CASE. It stays readable and counts no more."""
    change(cases, case, Request(what="strike", line=line, author=author, reason=reason))


@click.command("amend", short_help="Give a line another value or time.")
@click.argument("case")
@click.argument("line", type=click.IntRange(1))
@click.argument("words", required=False)
@click.option("--at", metavar="TIME", help="When it really happened: 03:10, or a whole RFC 3339 time.")
@author_option
@reason_option
@cases_option
def amend(
    case: str, line: int, words: str | None, at: str | None, author: str, reason: str, cases: Path | None
) -> None:
    """Amend LINE of CASE: WORDS say what it should have been ("gastric in five zero"). An open question is answered.

    What was there before stays readable.
    """
    if words is None and at is None:
        raise click.UsageError("say what the line should have been, or with --at when it was")
    change(cases, case, Request(what="amend", line=line, words=words or "", at=at or "", author=author, reason=reason))


@click.command("late", short_help="Enter something late, with both times.")
@click.argument("case")
@click.argument("words")
@click.option("--at", required=True, metavar="TIME", help="When it happened: 03:10, or a whole RFC 3339 time.")
@author_option
@reason_option
@cases_option
def late(case: str, words: str, at: str, author: str, reason: str, cases: Path | None) -> None:
    """Enter WORDS into CASE as something that happened earlier. It is marked as a late entry, with both times."""
    change(cases, case, Request(what="late", words=words, at=at, author=author, reason=reason))


@click.command("undo", short_help="Put back what was changed last by hand.")
@click.argument("case")
@author_option
@reason_option
@cases_option
def undo(case: str, author: str, reason: str, cases: Path | None) -> None:
    """Put back what was struck, amended, answered, entered late or acknowledged last in CASE. Both stay readable."""
    change(cases, case, Request(what="undo", author=author, reason=reason))


@click.command("acknowledge", short_help="Say that a finding was seen, and why it may stand.")
@click.argument("case")
@click.argument("line", type=click.IntRange(1), required=False)
@author_option
@reason_option
@cases_option
def acknowledge(case: str, line: int | None, author: str, reason: str, cases: Path | None) -> None:
    """Say that the most urgent finding of CASE, or of its LINE, was seen, and why it may stand."""
    change(cases, case, Request(what="acknowledge", line=line, author=author, reason=reason))
    click.echo("acknowledged")


@click.command("shift", short_help="Move a case that was begun on a wrong clock.")
@click.argument("case")
@click.option("--by", required=True, metavar="±H:MM", help="+1:00 where the clock was an hour slow, -1:00 where fast.")
@click.option("--author", default="scribe", show_default=True, metavar="WHO", help="Who corrects; stands in the log.")
@reason_option
@cases_option
def shift(case: str, by: str, author: str, reason: str, cases: Path | None) -> None:
    """Move every time of CASE that was recorded so far by hours and minutes.

    The facts stay as they were written; everything shown and reckoned has the corrected times. A shift back undoes it.
    Set the clock of this machine first.
    """
    folder, by_s = cases_folder(cases), shift_s(by)
    asked = Request(what="shift", by_s=by_s, author=author, reason=reason)
    if (text := asked_of_the_room(find_case(folder, case), asked)) is not None:
        click.echo(text, nl=False)
        return
    session = shift_clock(folder, case, by_s, reason, author, wall_clock())
    try:
        click.echo(shifted(session, session.record.clocks[-1]))
    finally:
        session.close(0.0, "end of the correction")


@click.command("transcribe", short_help="Transcribe a spoken note.")
@click.argument("case")
@click.argument("line", type=click.IntRange(1))
@click.argument("words")
@author_option
@cases_option
def transcribe(case: str, line: int, words: str, author: str, cases: Path | None) -> None:
    """Transcribe the spoken note of LINE of CASE as WORDS. Its sound is kept; words given before stay in the record.

    "tamponade sound" writes the sound to listen to.
    """
    change(cases, case, Request(what="transcribe", line=line, words=words, author=author), quiet=True)
    click.echo(f"transcribed, line {line}")


def _fields(command: F) -> F:
    for name in reversed([name for name in Identifiers.model_fields if name != "salt"]):
        command = click.option(f"--{name.replace('_', '-')}", default="", metavar="TEXT")(command)
    return command


@click.command("identify", short_help="Add the names of patient and team, and the tube's serial number.")
@click.argument("case")
@_fields
@click.option("--forget", metavar="REASON", help="Remove the block of identifiers instead, and say why.")
@author_option
@cases_option
def identify(case: str, forget: str | None, author: str, cases: Path | None, **fields: str) -> None:
    """Keep identifiers with CASE, in a block of their own that can be removed again. None of them is needed.

    Without any you are asked for each: what is typed as an option is seen by whoever lists the running programs. A
    block that is given replaces the one before.
    """
    if forget is None and not any(fields.values()):
        fields = _asked(fields)
    given = Identifiers(**{name: text for name, text in fields.items() if text})
    if (forget is None) == (given == Identifiers()):
        raise click.UsageError("give at least one identifier, or --forget")
    if forget is not None:
        change(cases, case, Request(what="forget", author=author, reason=forget), quiet=True)
        click.echo("the block of identifiers is removed")
    else:
        change(cases, case, Request(what="identify", author=author, identifiers=given), quiet=True)
        click.echo("kept, beside the facts")


def _asked(names: Iterable[str]) -> dict[str, str]:
    """Each by itself, empty where nobody says; from standard input a line each, in this order."""
    if sys.stdin.isatty():
        return {name: click.prompt(name.replace("_", " "), default="", show_default=False, err=True) for name in names}
    return {name: sys.stdin.readline().strip() for name in names}


@contextmanager
def _scribe(cases: Path | None, case: str, author: str) -> Iterator[Session]:
    session = resume(cases_folder(cases), case, TYPED, author, wall_clock())
    for doubt in session.doubts:
        click.echo(unverified(doubt), err=True)
    try:
        yield session
    finally:
        session.close(0.0, "end of the correction")


def change(cases: Path | None, case: str, request: Request, quiet: bool = False) -> None:
    """Has it done by the room that holds the case, or opens the case for it; what came of it is shown."""
    folder = cases_folder(cases)
    asked = request.model_copy(update={"columns": get_terminal_size().columns})
    text = asked_of_the_room(find_case(folder, case), asked)
    if text is not None:
        click.echo("" if quiet else text, nl=False)
        return
    with _scribe(cases, case, request.author) as session:
        facts = performed(session, compile_phrases(session.procedure), request, 0.0)
        if not quiet:
            ReadBack(session).notify(facts)
