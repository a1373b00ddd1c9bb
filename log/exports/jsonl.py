"""Every fact of the case as JSON Lines, nothing left out or added up: what `tamponade import` makes the same case from.

The first line says what the file is and carries the cautions; the last is the signed head. Each line between them is
a fact as it is stored: its SHA-256, without the line end, is the `previous` of the next. (A character that would steer
a terminal is escaped here, which changes the line but not what JSON it is; the fingerprint is that of the canonical
form, RFC 8785.)
"""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator

from log.summaries.whole import Whole

FORMAT = "tamponade-log facts"
VERSION = 2


def as_jsonl(case: Whole) -> str:
    """The facts as JSON Lines."""
    return "".join(f"{harmless(line)}\n" for line in _lines(case))


def _lines(case: Whole) -> Iterator[str]:
    opening: dict[str, object] = {"format": FORMAT, "version": VERSION, "cautions": case.procedure.cautions}
    if case.simulation:
        opening["simulation"] = case.simulation
    if case.deidentified:
        opening |= {"format": f"{FORMAT}, without identity", "year": case.opened.logged_at.year}
    yield json.dumps(opening, ensure_ascii=False)
    for link in case.links:
        yield link.text
    if case.head is not None:
        yield json.dumps({"head": case.head.model_dump()})


def harmless(text: str) -> str:
    """JSON in which no character steers a terminal, is invisible, or ends a line."""
    return _BEYOND_ASCII.sub(_escaped, text)


_BEYOND_ASCII = re.compile("[\x7f-\U0010ffff]")


def _escaped(found: re.Match[str]) -> str:
    character = found[0]
    if unicodedata.category(character) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
        return character
    return json.dumps(character, ensure_ascii=True)[1:-1] if character != "\x7f" else "\\u007f"
