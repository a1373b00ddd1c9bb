"""The grammars of a definition, kept from one start of the program to the next: making them takes two seconds in which
nobody is heard, reading them a tenth of one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from pydantic import TypeAdapter

from voice.engines.vosk_cache import kept_folder
from voice.phrases.compile import compile_grammars
from voice.phrases.phrases import Phrases
from voice.templates.grammar import ENTRIES, Grammar

FILE = "grammars.json"

MADE_BY = ("templates", "english", "phrases")
"""Folders of the code that makes them: other code makes other grammars."""

_ADAPTER: TypeAdapter[dict[str, Grammar]] = TypeAdapter(dict[str, Grammar])


def kept_grammars(phrases: Phrases, lead_word: str | None, folder: Path | None = None) -> dict[str, Grammar]:
    """The grammars of `compile_grammars`, made anew where they are not kept or cannot be read. Raises EngineError."""
    made: dict[str, Grammar] = {}

    def fill(draft: Path) -> None:
        made.update(compile_grammars(phrases, lead_word))
        (draft / FILE).write_bytes(_ADAPTER.dump_json(made))

    kept = kept_folder(_key(phrases, lead_word), fill, lambda one: (one / FILE).is_file(), folder)
    try:
        return made or _read(kept / FILE)
    except (OSError, ValueError):  # it was damaged, or taken away a moment ago
        return compile_grammars(phrases, lead_word)


def _read(path: Path) -> dict[str, Grammar]:
    grammars = _ADAPTER.validate_json(path.read_bytes())
    if ENTRIES not in grammars:
        raise ValueError("no grammars")
    return grammars


def _key(phrases: Phrases, lead_word: str | None) -> str:
    hashed = hashlib.sha256(_code())
    hashed.update(phrases.procedure.model_dump_json().encode())
    hashed.update(f" {lead_word}".encode())
    return f"grammars-{hashed.hexdigest()[:32]}"


@cache
def _code() -> bytes:
    """A fingerprint of the code that makes grammars."""
    return hashlib.sha256(b"".join(_sources())).digest()


def _sources() -> Iterator[bytes]:
    for name in MADE_BY:
        for path in sorted((Path(__file__).parents[1] / name).glob("*.py")):
            yield path.read_bytes()
