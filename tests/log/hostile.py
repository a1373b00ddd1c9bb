"""A case of somebody who means harm: chained, signed and in order, with the same hostile text wherever text can be."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from log.facts.events import to_plain
from log.store.chain import fingerprint
from tests.bench.fuzzing.facts import chained, head_of
from tests.cases import SIGNER, good_case

STEERS = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202e\u200b\u2028\r\n"
FORMULA = '=HYPERLINK("http://e.invalid";A1)'

WORDS = frozenset(
    {"author", "engine", "heard", "how", "label", "late_reason", "message", "nearest", "reason", "rule", "software"}
    | {"source", "detail", "unit", "override_approved_by", "override_approved_on"}
)
"""Fields of facts in which any text is a fact."""

PRINTED = frozenset({"about", "advice", "cautions", "message", "note", "sources", "title", "unit", "version"})
"""Fields of a definition in which any text is one. What is heard (`speech`) is never printed."""


def plain_facts(text: str) -> list[dict[str, Any]]:
    """The facts of a good case with this text in all of them, and in the definition."""
    kept = [to_plain(link.fact) for link in good_case().links]
    own = json.loads(kept[0]["definition"])
    definition = json.dumps({**_filled(own, text, PRINTED), "speech": own["speech"]})  # in speech no text is free
    facts: list[dict[str, Any]] = _filled(kept, text, WORDS)
    facts[0] |= {"definition": definition, "definition_sha256": fingerprint(definition)}
    facts[0] |= {"public_key": SIGNER.public_key, "case": kept[0]["case"]}
    before = ""
    for fact in facts:
        fact["logged_at"] = before = max(before, fact["logged_at"])
        if fact["fact"] == "entry_logged" and isinstance(fact["entry"]["value"], str):
            fact["entry"] |= {"value": text, "site": text, "kind": text}
    return facts


def _filled(plain: Any, text: str, fields: frozenset[str]) -> Any:
    """The same with another text in these fields, as far as they hold text, lists of it or tables of it."""
    if isinstance(plain, list):
        return [_filled(item, text, fields) for item in plain]
    if not isinstance(plain, dict):
        return plain
    return {
        k: v if k == "speech" else _texts(v, text) if k in fields else _filled(v, text, fields)
        for k, v in plain.items()
    }


def _texts(value: Any, text: str) -> Any:
    match value:
        case str():
            return text
        case list():
            return [_texts(item, text) for item in value]
        case dict():
            return {key: _texts(item, text) for key, item in value.items()}
        case _:
            return value


def written(path: Path, facts: list[dict[str, Any]]) -> Path:
    """An export of these facts, chained and signed."""
    lines = chained(facts)
    opening = json.dumps({"format": "tamponade-log facts", "version": 2})
    path.write_text("\n".join((opening, *lines, json.dumps({"head": head_of(facts, lines)}))), encoding="utf-8")
    return path
