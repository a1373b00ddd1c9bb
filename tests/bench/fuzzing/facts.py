"""Exports of a case, as somebody sends them who has a key of his own: whatever they say is chained and signed."""

from __future__ import annotations

import json
import random
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Any

from log.exports import FORMATS
from log.exports.deidentify import deidentified
from log.exports.jsonl_import import import_case
from log.facts.events import to_plain
from log.store import case as store
from log.store.chain import canonical, fingerprint
from log.store.folder import SUFFIX
from log.store.verify import verify
from log.summaries.whole import whole
from tests.bench.fuzzing.mutation import NUMBERS, TEXTS, TIMES, Given, Target, bytewise, spoil
from tests.cases import SIGNER, good_case, hostile_case

Plain = dict[str, Any]
AFTERWARDS = (
    '{"a":' * 5000 + "1" + "}" * 5000,
    '{"a":' * 400 + "1" + "}" * 400,
    "[" * 100_000,
    '{"seq":1,"seq":2}',
    '{"head":1e999}',
    '{"head":{"case":"x","facts":1e400,"sha256":"","public_key":"","signature":""}}',
    '{"head":{"case":"\\ud800","facts":-1,"sha256":"\\u0000","public_key":"\\ud800","signature":"zz"}}',
    '{"head":null}',
    "null",
    "9" * 5000,
    "\ud800",
    "\0",
    "",
    "w" * 4_000_001,
)
"""Lines put into a file that is whole otherwise."""


@cache
def _known(hostile: bool) -> str:
    case = hostile_case() if hostile else good_case()
    return json.dumps([to_plain(link.fact) for link in case.links])


def facts(rng: random.Random) -> list[Plain]:
    """The facts of a case, mostly in order, with something hostile among them."""
    known: list[Plain] = json.loads(_known(rng.random() < 0.2))
    kept = [known[0], *(fact for fact in known[1:] if rng.random() < 0.5)]
    for _ in range(rng.choice((0, 0, 1, 3, 12))):
        kept.insert(rng.randint(1, len(kept)), _entry(rng, known))
    if rng.random() < 0.4:
        kept = spoil(rng, kept, rng.choice((1, 1, 2, 3)))
    if rng.random() < 0.3 and kept and isinstance(kept[0], dict):
        kept[0] = _other_definition(rng, kept[0])
    if rng.random() < 0.1:
        _moved(rng, kept)
    if rng.random() < 0.8:
        _numbered(kept)
    return kept


def _entry(rng: random.Random, known: list[Plain]) -> Plain:
    """A fact that fits, with an entry that may be anything."""
    like = rng.choice([fact for fact in known if fact["fact"] == "entry_logged"])
    kind = rng.choice((like["entry"]["kind"], "volume_in", "volume_out", "pressure", "traction", "note", "lavage_out"))
    entry = {
        "kind": kind,
        "site": rng.choice(("gastric", "oesophageal", "both", None, rng.choice(TEXTS))),
        "value": rng.choice((0, 50, 1_000_000, -1_000_000, 0.1, 1e-320, "off", "down", None, rng.choice(NUMBERS))),
        "unit": rng.choice(("mL", "mmHg", None, rng.choice(TEXTS))),
        "detail": rng.choice((None, None, rng.choice(TEXTS))),
    }
    fact = like | {"entry": entry}
    if rng.random() < 0.1:
        fact["said_at"] = rng.choice(TIMES)
    return fact


def _other_definition(rng: random.Random, opened: Plain) -> Plain:
    """A definition of one's own, under its right fingerprint."""
    with suppress(ValueError, TypeError, KeyError, RecursionError):
        text = json.dumps(spoil(rng, json.loads(opened["definition"]), rng.randint(1, 3)))
        return opened | {"definition": text, "definition_sha256": fingerprint(text)}
    return opened


def _moved(rng: random.Random, kept: list[Plain]) -> None:
    """All times to an end of the calendar that is allowed, or an entry long before the case."""
    at = rng.choice(("1990-01-01T00:00:00+14:00", "2200-12-31T23:59:59-12:00", "2000-02-29T12:00:00.000001+05:45"))
    where = rng.choice((("logged_at", "said_at"), ("said_at",)))
    for fact in kept:
        for name in where:
            if isinstance(fact, dict) and name in fact:
                fact[name] = at


def _numbered(kept: list[Plain]) -> None:
    """Lines counted, and nothing written down before what stands before it."""
    number, before = 0, ""
    for fact in kept:
        if not isinstance(fact, dict):
            continue
        if fact.get("fact") in ("entry_logged", "entry_asked"):
            number += 1
            fact["number"] = number
        elif isinstance(fact.get("number"), int):
            fact["number"] = max(1, min(fact["number"], number))
        if isinstance(fact.get("logged_at"), str) and before and fact["logged_at"][:4] == before[:4]:
            fact["logged_at"] = max(before, fact["logged_at"])
        if isinstance(fact.get("said_at"), str) and isinstance(fact.get("logged_at"), str):
            fact["said_at"] = min(fact["said_at"], fact["logged_at"])
        before = fact["logged_at"] if isinstance(fact.get("logged_at"), str) else before


def chained(kept: list[Plain]) -> list[str]:
    """The facts as stored lines, each following from the one before."""
    lines: list[str] = []
    for seq, fact in enumerate(kept, start=1):
        previous = fingerprint(lines[-1]) if lines else None
        plain = {**fact, "seq": seq, "previous": previous} if isinstance(fact, dict) else fact
        try:
            lines.append(canonical(plain))
        except (ValueError, RecursionError):
            lines.append(json.dumps(plain))
    return lines


def head_of(kept: list[Plain], lines: list[str]) -> Plain:
    """The head over all of it, signed."""
    name = kept[0].get("case", "") if kept and isinstance(kept[0], dict) else ""
    try:
        return SIGNER.head(str(name), len(lines), fingerprint(lines[-1]) if lines else "").model_dump()
    except ValueError:
        return {"case": name, "facts": len(lines), "sha256": "", "public_key": SIGNER.public_key, "signature": ""}


def jsonl(rng: random.Random) -> Given:
    """An export: spoilt facts, well signed; or well made facts, spoilt afterwards."""
    kept = facts(rng)
    if rng.random() < 0.15 and kept and isinstance(kept[0], dict):
        kept[0]["case"] = rng.choice((*TEXTS, "x.case", ".x", "x" * 101, "NUL", "a/b", "a\\b", "..", "x:y"))
    if rng.random() < 0.9:
        for fact in kept:
            if isinstance(fact, dict) and "public_key" in fact:
                fact["public_key"] = SIGNER.public_key
    lines = chained(kept)
    opening = json.dumps({"format": "tamponade-log facts", "version": 2, "cautions": ["x"]})
    written = [opening, *lines, json.dumps({"head": head_of(kept, lines)})]
    draw = rng.random()
    if draw < 0.15:
        written[rng.randrange(len(written))] = rng.choice(AFTERWARDS)
    if draw < 0.02:
        written.insert(rng.randrange(len(written)), rng.choice(AFTERWARDS))
    content = "\n".join(written).encode("utf-8", "surrogatepass")
    return Given("x.jsonl", bytewise(rng, content) if draw > 0.8 else content)


def use_jsonl(path: Path, folder: Path) -> None:
    """Imports it, again, and writes all that a team takes away of it."""
    imported = import_case(folder, path, word_for=[SIGNER.public_key])
    if folder.resolve() not in imported.path.resolve().parents:
        raise AssertionError(f"{imported.path} is outside {folder}")
    if import_case(folder, path, word_for=[SIGNER.public_key]).outcome != "known":
        raise AssertionError("the same file was imported twice")
    report = verify(imported.path)
    if report.problems:
        raise AssertionError(f"what was imported does not verify: {report.problems[0]}")
    exported(store.read(folder, imported.path.name.removesuffix(SUFFIX)))


def exported(kept: store.Kept) -> None:
    """One of the formats, by turns, and the next of a case without identity."""
    case = whole(kept)
    names, turn = list(FORMATS), sum(len(link.text) for link in kept.links)
    bare, _ = deidentified(case, keep_free_text=turn % 2 == 0)
    FORMATS[names[turn % len(names)]].write(case)
    FORMATS[names[(turn + 1) % len(names)]].write(bare)


TARGETS = (Target("jsonl import", 5, jsonl, use_jsonl),)
