"""The second hearing: every kept sound of a case heard again, and what differs taken or left."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import click

from log.basics.errors import InputError
from log.exports.second_hearing import plain
from log.facts.second_hearing import kept_sounds, reviewed
from log.scribe.opening import resume
from log.scribe.session import TYPED, Session, wall_clock
from log.store import case as store
from log.store.folder import cases_folder
from log.summaries.whole import whole
from log.words.second_hearing import heard_now, log_says, progress_in_words
from log.words.wording import stamp
from tui.commands.correct import change
from tui.commands.options import cases_option, engine_option
from tui.live.relisten import Batch, left_to_hear, relisten, seconds_of, written
from tui.live.request import Request
from tui.live.second_ears import second_ears
from tui.views.read_back import unverified
from voice.meaning.ears import EngineChoice
from voice.phrases.phrases import compile_phrases

END = "end of the second hearing"


@click.command("relisten", short_help="Hear every kept sound again; take or leave what differs.")
@click.argument("case")
@click.option("--take", type=click.IntRange(1), metavar="N", help="Change the log as difference N says.")
@click.option("--leave", type=click.IntRange(1), metavar="N", help="Leave the log as it is; needs a --reason.")
@click.option("--words", default="", metavar="WORDS", help="With --take: the words as they should be.")
@click.option("--reason", default="", metavar="TEXT", help="Why it is taken or left; it stands in the log.")
@click.option("--author", default="scribe", show_default=True, metavar="WHO", help="Who reviews; it stands in the log.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object: progress and differences.")
@cases_option
@engine_option
def command(
    case: str,
    take: int | None,
    leave: int | None,
    words: str,
    reason: str,
    author: str,
    as_json: bool,
    cases: Path | None,
    engine: EngineChoice,
) -> None:
    """Hear every kept sound of CASE again, with a wider search, and list what differs from the log.

    That changes nothing. Each difference is taken or left with its author: here, or in the room with the key a. What is
    interrupted goes on from there. An installed general recogniser (tamponade-log[words]) is one more ear, and drafts
    words for spoken notes and for what was not understood.
    """
    if take is not None or leave is not None:
        _review(case, take, leave, words, reason, author, cases)
    else:
        _hear(case, author, cases, engine, as_json)
    if as_json:
        _print_json(case, cases)


def _review(
    case: str, take: int | None, leave: int | None, words: str, reason: str, author: str, cases: Path | None
) -> None:
    if take is not None and leave is not None:
        raise click.UsageError("take one or leave one")
    what, difference = ("take", take) if take is not None else ("leave", leave)
    request = {"what": what, "difference": difference, "words": words, "reason": reason, "author": author}
    change(cases, case, Request.model_validate(request))


def _hear(case: str, author: str, cases: Path | None, engine: EngineChoice, as_json: bool) -> None:
    if not kept_sounds(whole(store.read(cases_folder(cases), case)).record):
        raise InputError(f"{case} keeps no sound", "there is nothing to hear again")
    with _opened(case, author, cases) as session:
        with second_ears(compile_phrases(session.procedure), engine) as ears:
            left = left_to_hear(session.record, ears.names)
            with _progress(len(left.sounds)) as went_on:
                relisten(session, ears, lambda batch: _write(session, batch, ears.names), went_on)
        if not as_json:
            for line in _report(session, seconds_of(left.sounds)):
                click.echo(line)


def _write(session: Session, batch: Batch, engine: str) -> None:
    written(session, batch, engine, wall_clock())


@contextmanager
def _opened(case: str, author: str, cases: Path | None) -> Iterator[Session]:
    session = resume(cases_folder(cases), case, TYPED, author, wall_clock())
    for doubt in session.doubts:
        click.echo(unverified(doubt), err=True)
    try:
        yield session
    finally:
        session.close((wall_clock() - session.began).total_seconds(), END)


@contextmanager
def _progress(sounds: int) -> Iterator[Callable[[int, int], bool]]:
    """A bar on standard error, with the time that is left, where somebody sees it."""
    if not sys.stderr.isatty():
        yield lambda _heard, _all: True
        return
    with click.progressbar(length=sounds, label="hearing again", file=sys.stderr) as bar:

        def went_on(_heard: int, _all: int) -> bool:
            bar.update(1)
            return True

        yield went_on


def _report(session: Session, seconds: float) -> Iterator[str]:
    """How far it has come, then each difference that waits, in two lines."""
    found, procedure = reviewed(session.record), session.procedure
    if found is None:
        return
    yield f"{progress_in_words(found)} ({seconds:.0f} s of speech heard now)"
    for one in found.waiting:
        yield f"{one.difference:>3}  {stamp(one.said_at)}  {one.differs}: {log_says(procedure, session.record, one)}"
        yield f"     heard again: {heard_now(procedure, one)}"
    if found.waiting:
        name = session.record.opened.case if session.record.opened else "CASE"
        yield f"take or leave each: tamponade relisten {name} --take N, or --leave N --reason TEXT"


def _print_json(case: str, cases: Path | None) -> None:
    kept = store.read(cases_folder(cases), case)
    found = plain(whole(kept)).get("second_hearing", {})
    click.echo(json.dumps({"case": kept.name, **(found if isinstance(found, dict) else {})}))
