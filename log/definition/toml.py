"""TOML files that people write - definitions, local changes, scenarios - read within bounds, so that none can keep the
program busy for ever."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from log.basics.errors import InputError
from log.basics.visible import harmless

LONGEST = 400_000
"""Characters of a file. The shipped ones have some 22,000 in all."""

MOST_DOTS = 100
"""In a line. The time that a dotted key takes to read grows with the square of its length."""


def is_there(path: Path) -> bool:
    """Whether there is a file of this name."""
    try:
        return path.exists()
    except (OSError, ValueError):  # what cannot be the name of a file is none
        return False


def text_of(path: Path, what: str) -> str:
    """The text of such a file. Raises InputError. `what`: a definition, a scenario."""
    try:
        with path.open(encoding="utf-8") as file:
            text = file.read(LONGEST + 1)
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file", "check the path") from None
    except (OSError, ValueError) as error:  # ValueError: not UTF-8, or a path that cannot be one
        raise InputError(f"{path}: cannot be read ({error})", "give a text file in UTF-8") from None
    if len(text) > LONGEST or any(line.count(".") > MOST_DOTS for line in text.splitlines()):
        raise InputError(f"{path}: longer than any {what}", f"give a .toml file of a {what}")
    return text


def parsed(text: str) -> dict[str, Any]:
    """The tables in a text, with nothing in them that would steer a terminal. Raises ValueError for what is no TOML,
    nested too deeply, or has numbers of no size."""
    try:
        found: dict[str, Any] = harmless(tomllib.loads(text))
    except RecursionError:
        raise ValueError("nested too deeply") from None
    return found
