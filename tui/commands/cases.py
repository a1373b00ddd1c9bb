"""The cases on this machine: listed, and rid of sound and identifiers when their time is over."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import click

from log.basics.errors import TamponadeError
from log.basics.visible import visible
from log.facts.clock import on_the_right_clock
from log.facts.simulation import MARK
from log.facts.summary import Summary
from log.scribe import removal
from log.store import case as store
from log.store.folder import SUFFIX, case_names, cases_folder
from tui.commands.options import cases_option


@click.group("cases", short_help="List the cases on this machine; remove old sound.", invoke_without_command=True)
@cases_option
@click.pass_context
def command(context: click.Context, cases: Path | None) -> None:
    """List the cases, oldest first: name, begin, label, entries, what is open."""
    context.obj = cases_folder(cases)
    if context.invoked_subcommand is not None:
        return
    names = case_names(context.obj)
    if not names:
        click.echo(visible(f"no cases in {context.obj}"))
    click.echo("".join(f"{_line(context.obj, name)}\n" for name in names), nl=False)


def _line(folder: Path, name: str) -> str:
    try:
        found = store.summary(folder / f"{name}{SUFFIX}")
    except TamponadeError as error:
        return visible(f"{name}  {error}")
    return visible(f"{name}  {_described(found)}")


def _described(found: Summary) -> str:
    began = found.began[:16].replace("T", " ")
    label = f"  {found.label}" if found.label else ""
    label += f"  {MARK} ({found.simulation})" if found.simulation else ""
    return f"{began}  {found.entries} entries, {found.asked} not confirmed, {found.findings} findings open{label}"


@command.command("prune")
@click.option(
    "--older-than",
    "days",
    type=click.IntRange(0),
    required=True,
    metavar="DAYS",
    help="Remove what is older than this.",
)
@click.option("--identifiers", is_flag=True, help="Remove the blocks of identifiers as well.")
@click.option("--case", "only", metavar="CASE", help="This case alone.")
@click.option("--author", required=True, metavar="WHO", help="Who removes it; it stands in the log.")
@click.option("--reason", default="kept long enough", show_default=True, help="Why; it stands in the log.")
@click.option("--dry-run", is_flag=True, help="Say what would be removed, and remove nothing.")
@click.pass_obj
def prune(
    folder: Path, days: int, identifiers: bool, only: str | None, author: str, reason: str, dry_run: bool
) -> None:
    """Remove the sound of cases that ended more than DAYS ago.

    What was heard stays in the log, and so does what was removed, when, by whom and why. A voice identifies a person:
    keep it no longer than it is needed.
    """
    failed = 0
    for name in (only,) if only is not None else case_names(folder):
        try:
            click.echo(visible(f"{name}  {_pruned(folder, name, days, identifiers, author, reason, dry_run)}"))
        except TamponadeError as error:
            failed = error.exit_code
            click.echo(visible(f"{name}  {error}"), err=True)
    if failed:
        raise SystemExit(failed)


def _pruned(folder: Path, name: str, days: int, identifiers: bool, author: str, reason: str, dry_run: bool) -> str:
    from log.scribe.opening import resume
    from log.scribe.session import TYPED, wall_clock  # brings what reads sound, which a list of cases has no use for
    from log.store.verify import sounds_named

    kept, now = store.read(folder, name), wall_clock()

    def old(moment: datetime) -> bool:
        return days == 0 or moment < now - timedelta(days=days)  # a replayed case may run ahead of the clock

    facts = on_the_right_clock(kept.facts)
    sounds = tuple(sha256 for sha256, heard_at in sounds_named(facts).items() if old(heard_at))
    block = identifiers and kept.identifiers is not None and old(facts[-1].logged_at)
    found = (f"sounds ({len(sounds)})" if sounds else "", "identifiers" if block else "")
    what = " and ".join(part for part in found if part)
    if not what or dry_run:
        return f"to remove: {what or 'nothing'}"
    session = resume(folder, name, TYPED, author)
    try:
        if sounds:
            removal.forget_sounds(session.ledger, sounds, reason, author, session.began)
        if block:
            removal.forget_identifiers(session.ledger, reason, author, session.began)
    finally:
        session.close(0.0, "end of the correction")
    return f"removed: {what}"
