"""Corrections from the command line: strike, amend, enter late, transcribe a spoken note, name the patient."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import click

from log.basics.entry import Entry
from log.facts.events import Fact
from log.scribe.correct import Correction
from log.scribe.opening import resume
from log.scribe.session import TYPED, Session, wall_clock
from log.store.folder import cases_folder
from log.store.identifiers import Identifiers
from tui.commands.options import cases_option
from tui.views.read_back import ReadBack, unverified
from tui.views.times import moment
from voice.meaning.matcher import one_entry
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
    with _scribe(cases, case, author) as session:
        _show(session, session.strike(line, Correction(author, reason, session.began)))


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
    with _scribe(cases, case, author) as session:
        entry = _entry(session, words) if words is not None else None
        happened_at = moment(at, session.began) if at is not None else None
        by = Correction(author, reason, session.began, words or "")
        _show(session, session.amend(line, entry, happened_at, by))


@click.command("late", short_help="Enter something late, with both times.")
@click.argument("case")
@click.argument("words")
@click.option("--at", required=True, metavar="TIME", help="When it happened: 03:10, or a whole RFC 3339 time.")
@author_option
@reason_option
@cases_option
def late(case: str, words: str, at: str, author: str, reason: str, cases: Path | None) -> None:
    """Enter WORDS into CASE as something that happened earlier. It is marked as a late entry, with both times."""
    with _scribe(cases, case, author) as session:
        entry = _entry(session, words)
        by = Correction(author, reason, session.began, words)
        _show(session, session.enter_late(entry, moment(at, session.began), by))


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
    with _scribe(cases, case, author) as session:
        session.transcribe(line, words, author, session.began)
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

    A block that is given replaces the one before.
    """
    given = Identifiers(**{name: text for name, text in fields.items() if text})
    if (forget is None) == (given == Identifiers()):
        raise click.UsageError("give at least one identifier, or --forget")
    with _scribe(cases, case, author) as session:
        if forget is not None:
            session.forget_identifiers(forget, author, session.began)
            click.echo("the block of identifiers is removed")
        else:
            session.identify(given, author, session.began)
            click.echo("kept, beside the facts")


@contextmanager
def _scribe(cases: Path | None, case: str, author: str) -> Iterator[Session]:
    session = resume(cases_folder(cases), case, TYPED, author, wall_clock())
    for doubt in session.doubts:
        click.echo(unverified(doubt), err=True)
    try:
        yield session
    finally:
        session.close(0.0, "end of the correction")


def _show(session: Session, facts: tuple[Fact, ...]) -> None:
    ReadBack(session).notify(facts)


def _entry(session: Session, words: str) -> Entry:
    return one_entry(compile_phrases(session.procedure), words)
