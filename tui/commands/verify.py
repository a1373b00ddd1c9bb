"""Checks that a case is still as it was written, without taking anybody's word for it."""

from __future__ import annotations

from pathlib import Path

import click

from log.basics.errors import NotVerified
from log.store.folder import cases_folder, find_case
from log.store.verify import Report, verify
from tui.commands.options import cases_option


@click.command("verify", short_help="Check that no fact of a case was changed.")
@click.argument("case")
@click.option(
    "--head", metavar="SHA256", help="A fingerprint from an export of this case, which the case must contain."
)
@click.option("--key", metavar="HEX", help="The public key from an export, which must have signed this case.")
@click.option("--without-sound", is_flag=True, help="Do not ask for sounds that are not here: the case was imported.")
@cases_option
def command(case: str, head: str | None, key: str | None, without_sound: bool, cases: Path | None) -> None:
    """Check CASE: every fact's link to the one before, order and times, the copy of the definition, the signed head,
    and every sound. The first fact that is not as it was written is named; then the exit code is 7.

    Somebody who has this machine's key could write a case anew or bring back an old state of it. A fingerprint from a
    note that was given away tells: --head.
    """
    path = find_case(cases_folder(cases), case)
    report = verify(path, head, key)
    _tell(report, without_sound)
    wrong = len(report.problems) + (0 if without_sound else len(report.sounds_missing))
    if wrong:
        first = report.first_broken
        where = f"the first broken fact is {first}" if first is not None else "no single fact is to blame"
        raise NotVerified(f"{path}: does not verify; {where}", "keep the file as it is, and restore a backup")


def _tell(report: Report, without_sound: bool) -> None:
    for problem in report.problems:
        click.echo(f"WRONG    {problem}")
    for sha256 in report.sounds_missing:
        click.echo(f"{'not here' if without_sound else 'MISSING '} sound {sha256}")
    head = report.head
    click.echo(f"facts    {report.facts}")
    click.echo(f"head     {head.sha256 if head else 'none'}")
    click.echo(f"signed   by {head.public_key if head else 'nobody'}")
    click.echo(f"sounds   {report.sounds} as they were")
    if not report.problems and (without_sound or not report.sounds_missing):
        click.echo("verified: every fact is as it was written, and the last is signed")
