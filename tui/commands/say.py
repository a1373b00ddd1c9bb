"""Typed words instead of sound: for learning the phrases, and for a scribe without a microphone."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable
from pathlib import Path
from shutil import get_terminal_size

import click

from log.basics.errors import StoreError
from log.facts.origin import KeepSound, Origin
from log.rules.definitions import load
from log.scribe.opening import Keeping, open_case, try_out
from log.scribe.session import TYPED, Session
from log.store.folder import case_names, cases_folder, find_case
from tui.commands.options import cases_option, definition_option, keeping_options, local_option, record_only_option
from tui.live.door import asked_of_the_room, room_answers
from tui.live.request import Request
from tui.views.read_back import ReadBack
from voice.meaning.matcher import Listening, understand
from voice.phrases.phrases import Phrases, compile_phrases


@click.command("say", short_help="Type an entry instead of saying it.")
@click.argument("words", nargs=-1)
@click.option("--case", "name", metavar="ID", help="Resume this case, or begin and keep one of this name.")
@definition_option
@local_option
@record_only_option
@cases_option
@keeping_options
def command(
    words: tuple[str, ...],
    name: str | None,
    definition: str,
    local: Path | None,
    only_record: bool,
    cases: Path | None,
    label: str,
    author: str,
    keep_sound: KeepSound,
    encrypt: bool,
) -> None:
    """Put typed WORDS through the same matcher and rules as spoken ones: tamponade say "gastric in fifty".

    Several quoted utterances go one after the other; without any, lines are read from standard input. With --case the
    entries are kept; without, they are shown and forgotten.
    """
    in_force = load(definition, local, only_record)
    keeping = Keeping(author, label, keep_sound, encrypt)
    if name is None:
        _say(try_out(in_force, TYPED, keeping), words)
    else:
        folder = cases_folder(cases)
        if name in case_names(folder) and room_answers(find_case(folder, name)):
            _say_in_the_room(find_case(folder, name), words, author)
        else:
            _say(open_case(folder, name, in_force, TYPED, keeping), words)


def _say_in_the_room(case: Path, words: tuple[str, ...], author: str) -> None:
    columns = get_terminal_size().columns
    for text in words or sys.stdin:
        if text.strip():
            told = asked_of_the_room(case, Request(what="say", words=text.strip(), author=author, columns=columns))
            if told is None:
                raise StoreError("the room has closed this case", "say it again")
            click.echo(told, nl=False)


def _say(session: Session, words: tuple[str, ...]) -> None:
    view = ReadBack(session)
    view.caution()
    view.notify(session.raised_at_resumption)
    phrases = compile_phrases(session.procedure)
    began = time.monotonic()
    try:
        lines: Iterable[str] = words or sys.stdin
        for text in lines:
            if text.strip():
                _one(session, view, phrases, text.strip(), round(time.monotonic() - began, 3))
    finally:
        session.close(time.monotonic() - began, "end of typing")


def _one(session: Session, view: ReadBack, phrases: Phrases, text: str, at: float) -> None:
    listening = Listening(question_open=session.record.open_question is not None)
    meaning = understand(phrases, text, listening)
    view.notify(session.take(meaning, at, at, Origin(by="typed", heard=text)))
