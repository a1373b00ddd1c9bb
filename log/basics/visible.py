"""Text that came from outside, so that it does nothing but be read: in a terminal, a note, a table or a page."""

from __future__ import annotations

import unicodedata
from typing import Any


def visible(text: str, longest: int | None = None) -> str:
    """The text in one line. What would steer a terminal, hide or turn the writing round is shown as a sign instead.

    `longest`: of more characters than this only the beginning is given.
    """
    if longest is not None and len(text) > longest:
        return f"{visible(text[:longest])} ..."
    if text.isascii() and text.isprintable():
        return text
    return "".join(_sign(character) for character in text)


def harmless(plain: Any) -> Any:
    """Tables, lists and texts of a file from outside, as they are, but for what would steer a terminal. Lines and tabs
    stay."""
    match plain:
        case str():
            return plain if plain.isprintable() else "".join(c if c in "\t\n" else _sign(c) for c in plain)
        case dict():
            return {harmless(key): harmless(value) for key, value in plain.items()}
        case list():
            return [harmless(value) for value in plain]
        case _:
            return plain


def _sign(character: str) -> str:
    if character in "\t\n\r":
        return " "
    if character < " ":
        return chr(0x2400 + ord(character))  # the picture of this control character
    category = unicodedata.category(character)
    return "\N{REPLACEMENT CHARACTER}" if category in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp") else character
