"""Whether this machine goes on with a case that another one signed: only once somebody here has given his word for
that key. Whoever can write a file can sign it with a key of his own; whose key it is, only a person can know."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from pathlib import Path

from log.basics.errors import InputError
from log.store.chain import Link, Stretch, stretches
from log.store.keys import own_key
from log.store.own_heads import Remembered, remember, remembered, trusted


def foreign(links: Sequence[Link], word_for: Collection[str] = ()) -> tuple[Stretch, ...]:
    """The facts that another machine signed and nobody here has given his word for. What was there before this machine
    went on with the case was accepted then."""
    if not links:
        return ()
    fine = {own_key(), *trusted(remembered(links[0].sha256)), *(key.lower() for key in word_for)}
    found: list[Stretch] = []
    for stretch in stretches(links):
        if stretch.public_key == own_key():
            found.clear()
        elif stretch.public_key not in fine:
            found.append(stretch)
    return tuple(found)


def refuse_foreign(path: Path, found: Iterable[Stretch], command: str) -> None:
    """Raises InputError for the first of them. `command`: with which the word is given."""
    for first, last, key in found:
        raise InputError(
            f"{path}: facts {first} to {last} are signed by another machine, with the key {key}",
            f"compare the key with a note from there, then: {command.format(key=key)}",
        )


def trust(opening: str, keys: Iterable[str]) -> None:
    """Gives the word for these keys, for the case whose first fact has this fingerprint."""
    for key in keys:
        if key.lower() != own_key():
            remember(Remembered(opening=opening, trusted=key.lower()))
