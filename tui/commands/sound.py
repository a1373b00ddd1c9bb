"""The sound behind a line."""

from __future__ import annotations

from pathlib import Path

import click

from log.basics.errors import InputError
from log.basics.visible import visible
from log.facts.events import Fact
from log.facts.origin import Origin, Sound
from log.store import case as store
from log.store.files import private_folder, write_private
from log.store.folder import cases_folder
from tui.commands.options import cases_option


@click.command("sound", short_help="Write the sound of a case, to listen again.")
@click.argument("case")
@click.argument("line", type=click.IntRange(1), required=False)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    metavar="DIR",
    help="Folder to write FLAC files into.",
)
@cases_option
def command(case: str, line: int | None, out: Path, cases: Path | None) -> None:
    """Write the sound of CASE, or of one LINE of it, as FLAC files named by the number of the fact.

    A voice identifies a person: treat the files like a name.
    """
    kept = store.read(cases_folder(cases), case)
    found = [
        (link.seq, sound.sha256)
        for link in kept.links
        if (sound := _sound(link.fact)) is not None and line in (None, getattr(link.fact, "number", None))
    ]
    if not found:
        raise InputError(f"{kept.path}: no sound was kept for it", "see --keep-audio of replay")
    private_folder(out)
    for seq, sha256 in found:
        content = store.sound(kept.path, sha256)
        if content is None:
            click.echo(f"fact {seq}: its sound was removed", err=True)
            continue
        path = out / f"{kept.name}-{seq:05}.flac"
        write_private(path, content)
        click.echo(visible(str(path)))


def _sound(fact: Fact) -> Sound | None:
    origin = getattr(fact, "origin", None)
    return origin.sound if isinstance(origin, Origin) else None
