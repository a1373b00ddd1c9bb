"""The facts as they are chained: a fingerprint can be checked with a JSON library and SHA-256 alone."""

from __future__ import annotations

import json
import unicodedata
from typing import TYPE_CHECKING

import rfc8785

from log.exports.jsonl import as_jsonl
from log.facts.events import from_plain
from log.store.chain import fingerprint

if TYPE_CHECKING:
    from tests.log.exports.conftest import Room


def test_the_facts_are_written_out_as_they_are_chained(whole_case: Room, new_room: type[Room]) -> None:
    """A fingerprint can be checked with a JSON library and SHA-256 alone (RFC 8785, FIPS 180-4)."""
    room = whole_case
    room.facts[0] = new_room(label="Zürich \x7f \u2028").facts[0]
    text = as_jsonl(room.whole)
    head, *lines, end = [json.loads(line) for line in text.splitlines()]
    assert head == {"format": "tamponade-log facts", "version": 2, "cautions": list(room.procedure.cautions)}
    assert room.kept.head is not None and end == {"head": room.kept.head.model_dump()}
    previous = None
    for seq, line in enumerate(lines, start=1):
        assert (line["seq"], line["previous"]) == (seq, previous)
        previous = fingerprint(rfc8785.dumps(line).decode())
    assert end["head"]["sha256"] == previous
    assert [from_plain({k: v for k, v in ln.items() if k not in ("seq", "previous")}) for ln in lines] == room.facts
    assert not [c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Zl") and c != "\n"]
