"""Checks that a case is still as it was written, without taking anybody's word for it."""

from __future__ import annotations

from pathlib import Path

import click

from log.basics.errors import NotVerified
from log.store.folder import cases_folder, find_case
from log.store.keys import own_key
from log.store.trust import trust as give_word
from log.store.verify import Report, verify
from tui.commands.options import cases_option


@click.command("verify", short_help="Check that no fact of a case was changed.")
@click.argument("case")
@click.option(
    "--head", metavar="SHA256", help="A fingerprint from an export of this case, which the case must contain."
)
@click.option(
    "--key",
    "keys",
    metavar="HEX",
    multiple=True,
    help="The public key from an export: every fact has to be signed by it, or by another that is given so.",
)
@click.option("--trust", is_flag=True, help="Go on with this case here although other machines signed it: their --key.")
@click.option("--without-sound", is_flag=True, help="Do not ask for sounds that are not here: the case was imported.")
@cases_option
def command(
    case: str, head: str | None, keys: tuple[str, ...], trust: bool, without_sound: bool, cases: Path | None
) -> None:
    """Check CASE: every fact's link to the one before, order and times, the copy of the definition, the signed head,
    and every sound. The first fact that is not as it was written is named; then the exit code is 7.

    What a case says by itself is that its facts belong together. Whose they are, the key on a note says: --key. That
    nobody with this machine's key wrote it anew, only a fingerprint on a note that was given away says: --head.
    """
    if trust and not keys:
        raise click.UsageError("--trust needs the --key that you compared with a note or an export")
    path = find_case(cases_folder(cases), case)
    report = verify(path, head, keys)
    _tell(report, without_sound)
    wrong = len(report.problems) + (0 if without_sound else len(report.sounds_missing))
    if wrong:
        first = report.first_broken
        where = f"the first broken fact is {first}" if first is not None else "no single fact is to blame"
        raise NotVerified(f"{path}: does not verify; {where}", "keep the file as it is, and restore a backup")
    if trust:
        give_word(report.opening, keys)
        click.echo("trusted: this machine goes on with the case")


def _tell(report: Report, without_sound: bool) -> None:
    for problem in report.problems:
        click.echo(f"WRONG    {problem}")
    for sha256 in report.sounds_missing:
        click.echo(f"{'not here' if without_sound else 'MISSING '} sound {sha256}")
    head = report.head
    click.echo(f"facts    {report.facts}")
    click.echo(f"head     {head.sha256 if head else 'none'}")
    own = own_key()
    for first, last, key in report.stretches:
        click.echo(f"signed   facts {first} to {last} by {key} ({'this' if key == own else 'another'} machine)")
    click.echo(f"sounds   {report.sounds} as they were")
    if not report.problems and (without_sound or not report.sounds_missing):
        click.echo("verified: every fact is as it was written, and the last is signed")
