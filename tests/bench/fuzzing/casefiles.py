"""Case files that were damaged, or written by somebody else: bytes, pages, tables, and what lies in them."""

from __future__ import annotations

import json
import os
import random
import sqlite3
import struct
import tempfile
import time
from contextlib import closing, suppress
from functools import cache
from pathlib import Path

from log.basics.errors import InputError, TamponadeError
from log.basics.visible import visible
from log.facts.events import CaptureGap, EntryLogged, IdentifiersGiven
from log.facts.origin import Origin, Sound
from log.facts.record import fold
from log.rules.definitions import of_case
from log.scribe.opening import resume
from log.store import case as store
from log.store.chain import linked, read_link
from log.store.folder import SUFFIX
from log.store.identifiers import Identifiers, sealed
from log.store.sqlite import FORMAT, SCHEMA
from log.store.verify import verify
from log.store.writing import beside
from tests.bench.fuzzing.facts import chained, exported, facts, head_of
from tests.bench.fuzzing.mutation import TEXTS, Given, Target, bytewise
from tests.cases import SIGNER, good_case

CASE = "20261004-140000"
ENDLESS = "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c)"
TAMPERING = (
    "DROP TRIGGER facts_are_never_changed",
    "DROP TRIGGER facts_are_never_deleted; DELETE FROM facts WHERE seq = {n}",
    "DROP TRIGGER facts_are_never_changed; UPDATE facts SET line = '{text}' WHERE seq = {n}",
    "DROP TRIGGER facts_are_never_changed; UPDATE facts SET seq = 9223372036854775807 WHERE seq = {n}",
    "DROP TRIGGER facts_are_never_changed; UPDATE facts SET seq = -seq",
    "DROP TRIGGER facts_are_never_changed; UPDATE facts SET line = replace(line, '50', '1e999')",
    "DROP TRIGGER facts_are_never_changed; UPDATE facts SET line = CAST(x'ff00fe' AS TEXT) WHERE seq = {n}",
    "INSERT INTO facts VALUES (9223372036854775807, 'null')",
    "INSERT INTO facts VALUES (4611686018427387904, '{{\"seq\":1}}')",
    "INSERT INTO facts VALUES (0, '[]')",
    "INSERT INTO facts VALUES (-1, '{deep}')",
    "INSERT INTO facts VALUES (1000, replace(hex(zeroblob(20000000)), '00', 'x'))",
    "DROP TABLE facts",
    "DROP TABLE facts; CREATE TABLE facts (seq, line)",
    "DROP TABLE facts; CREATE TABLE facts (seq, line); INSERT INTO facts VALUES ('x', 1), (NULL, x'00'), (1.5, NULL)",
    "DROP TABLE facts; CREATE VIEW facts AS " + ENDLESS + " SELECT x AS seq, '{{}}' AS line FROM c",
    "DROP TABLE head; CREATE VIEW head AS " + ENDLESS + " SELECT x AS one, x AS head, x AS summary FROM c WHERE x < 0",
    "DROP TABLE beside; CREATE VIEW beside AS "
    + ENDLESS
    + " SELECT x AS rowid, 'x' AS sha256, 'sound' AS kind, zeroblob(1000000) AS content FROM c",
    "CREATE VIEW more AS " + ENDLESS + " SELECT x FROM c",
    "CREATE TRIGGER more AFTER INSERT ON facts BEGIN DELETE FROM beside; UPDATE head SET head = ''; END",
    "CREATE TRIGGER more BEFORE INSERT ON facts BEGIN INSERT INTO beside "
    + ENDLESS
    + " SELECT x, x, x'00' FROM c; END",
    'CREATE TABLE "\x1b[2J" (x CHECK (length(randomblob(900000000)) > 0)); '
    'PRAGMA ignore_check_constraints = ON; INSERT INTO "\x1b[2J" VALUES (1), (2), (3), (4), (5), (6), (7), (8)',
    "CREATE TABLE more (x, y AS (length(hex(zeroblob(400000000)))) STORED)",
    "CREATE INDEX more ON facts (line)",
    "CREATE TABLE more (x); ANALYZE; UPDATE sqlite_stat1 SET stat = '{text}'",
    "PRAGMA user_version = 1",
    "PRAGMA user_version = -1",
    "PRAGMA application_id = 1",
    "PRAGMA encoding = 'UTF-16'",
    "DELETE FROM head",
    "UPDATE head SET head = '{text}'",
    "UPDATE head SET head = '{deep}', summary = '{deep}'",
    "UPDATE head SET summary = '{text}'",
    "UPDATE head SET summary = json_set(summary, '$.label', '{text}', '$.entries', 1e300)",
    "UPDATE head SET head = json_set(head, '$.facts', -5, '$.sha256', '{text}', '$.public_key', '{text}')",
    "UPDATE head SET head = CAST(x'ff' AS TEXT), summary = CAST(x'fe' AS TEXT)",
    "UPDATE beside SET content = zeroblob(3)",
    "UPDATE beside SET kind = '{text}'",
    "UPDATE beside SET sha256 = sha256 || 'x'",
    "UPDATE beside SET kind = 'identifiers', content = CAST('{text}' AS BLOB)",
    "INSERT INTO beside VALUES ('{text}', 'identifiers', x'ff')",
    "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = '{text}' WHERE name = 'facts'",
    "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET rootpage = {n} WHERE type = 'table'",
    "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET type = 'view' WHERE name = 'facts'",
    "PRAGMA writable_schema = ON; DELETE FROM sqlite_schema WHERE name LIKE '%{n}%' OR type = 'trigger'",
    "PRAGMA writable_schema = ON; INSERT INTO sqlite_schema VALUES "
    "('table', 'v', 'v', 0, 'CREATE VIRTUAL TABLE v USING fts5(x)')",
    "CREATE VIRTUAL TABLE v USING fts5(x)",
    "CREATE VIRTUAL TABLE v USING rtree(a, b, c)",
)
"""What can be done to a case with any SQLite program."""


@cache
def _good() -> bytes:
    """A case with a sound and a block of identifiers beside its facts."""
    sound, block = beside("sound", b"x" * 9000), beside("identifiers", sealed(Identifiers()))
    *said, last = (link.fact for link in good_case().links if not isinstance(link.fact, CaptureGap))
    heard = next(n for n, fact in enumerate(said) if isinstance(fact, EntryLogged))
    said[heard] = EntryLogged.model_validate(
        {**said[heard].model_dump(), "origin": Origin(sound=Sound(sha256=sound.sha256, seconds=1))}
    )
    links = linked([*said, IdentifiersGiven(logged_at=last.logged_at, sha256=block.sha256, author="x"), last])
    with tempfile.TemporaryDirectory() as scratch:
        path = store.restore(Path(scratch), links, SIGNER.head(CASE, len(links), links[-1].sha256))
        with closing(sqlite3.connect(path)) as connection, connection:
            for kept in (sound, block):
                connection.execute("INSERT INTO beside VALUES (?, ?, ?)", (kept.sha256, kept.kind, kept.content))
        assert not verify(path).problems
        return path.read_bytes()


def case_file(rng: random.Random) -> Given:
    """A case file that is no longer what it was."""
    draw = rng.random()
    if draw < 0.25:
        content = bytewise(rng, _good())
    elif draw < 0.40:
        content = _header(rng, bytearray(_good()))
    elif draw < 0.55:
        content = _pages(rng, _good())
    elif draw < 0.80:
        content = _tampered(rng)
    else:
        content = _written_by_another(rng)
    if rng.random() < 0.02:
        content = rng.choice((b"", b"SQLite format 3\0", content[:100], b"\0" * 5000, content[:4096]))
    return Given("x.case", content)


def _header(rng: random.Random, content: bytearray) -> bytes:
    place = rng.randrange(16, 100)
    content[place : place + 4] = rng.choice((0, 1, 0xFF, 0x7FFFFFFF, 0xFFFFFFFF)).to_bytes(4, "big")
    return bytes(content)


def _pages(rng: random.Random, content: bytes) -> bytes:
    size = struct.unpack(">H", content[16:18])[0]
    pages = [content[i : i + size] for i in range(0, len(content), size)]
    for _ in range(rng.choice((1, 1, 3))):
        one, other = rng.randrange(len(pages)), rng.randrange(len(pages))
        match rng.randrange(5):
            case 0:
                pages[one], pages[other] = pages[other], pages[one]
            case 1:
                pages[one] = pages[other]
            case 2:
                pages[one] = bytes(size)
            case 3:
                pages[one] = bytewise(rng, pages[one])[:size].ljust(size, b"\0")
            case 4:
                pages = pages[: one + 1]
    return b"".join(pages)


def _tampered(rng: random.Random) -> bytes:
    with closing(sqlite3.connect(":memory:")) as connection:
        content = bytearray(_good())
        content[18:20] = b"\1\1"  # no journal beside it: it is in memory
        connection.deserialize(bytes(content))
        until = time.monotonic() + 5
        connection.set_progress_handler(lambda: time.monotonic() > until, 100_000)  # its own traps may catch us
        for _ in range(rng.choice((1, 1, 2, 4))):
            text = rng.choice(TEXTS).replace("'", "''").encode("utf-8", "replace").decode()
            script = rng.choice(TAMPERING).format(n=rng.randint(1, 30), text=text, deep="[" * 900 + "]" * 900)
            with suppress(sqlite3.Error, sqlite3.Warning, ValueError):
                connection.executescript(script)
        return connection.serialize()


def _written_by_another(rng: random.Random) -> bytes:
    """The right tables, and facts that are chained and signed by somebody's own key."""
    kept = facts(rng)
    lines = chained(kept)
    head = head_of(kept, lines)
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.executescript(f"{'; '.join(SCHEMA)}; PRAGMA user_version={FORMAT}")
        with suppress(UnicodeEncodeError):
            connection.executemany("INSERT INTO facts VALUES (?, ?)", enumerate(lines, start=1))
        said = json.dumps({"patient_first": rng.choice(TEXTS), "operator": rng.choice(TEXTS), "salt": "x"})
        block = beside("identifiers", said.encode() if rng.random() < 0.9 else b"{")
        if rng.random() < 0.5:
            connection.execute("INSERT INTO beside VALUES (?, ?, ?)", (block.sha256, block.kind, block.content))
        connection.execute("INSERT INTO head VALUES (1, ?, ?)", (json.dumps(head), _summary(lines)))
        connection.commit()
        return connection.serialize()


def _summary(lines: list[str]) -> str:
    try:
        return fold(read_link(line).fact for line in lines).summary.model_dump_json()
    except (ValueError, IndexError):
        return "{}"


def use_case_file(path: Path, _folder: Path) -> None:
    """Lists, verifies, reads and writes out a case, and resumes it. What one of these refuses the next still
    gets; the case counts as accepted if it verifies."""
    folder, name, refused = path.parent, path.name.removesuffix(SUFFIX), []
    size = path.stat().st_size

    def list_it() -> None:
        store.summary(path)

    def look_beside() -> None:
        store.sound(path, "0" * 64)

    def verify_it() -> None:
        problems = verify(path).problems
        if problems:
            assert all(str(problem) == visible(str(problem)) for problem in problems), "a problem steers a terminal"
            raise InputError(f"{path}: {problems[0]}", "does not verify")

    def read_it() -> None:
        exported(store.read(folder, name))

    def go_on() -> None:
        with store.resume(folder, name) as case:
            written = case.facts()
            case.head()
            of_case(written)
            at = max(fact.logged_at for fact in written)
            gap = CaptureGap(logged_at=at, began_at=at, seconds=1, reason="x")
            case.append([gap], fold([gap], fold(written)).summary)

    def nobody_goes_on() -> None:
        """All of these are signed by keys that nobody here gave his word for."""
        with suppress(TamponadeError):
            resume(folder, name, "typed", "fuzz").case.close()
            raise AssertionError("a stranger's case was gone on with")

    for use in (list_it, look_beside, verify_it, read_it, go_on, nobody_goes_on):
        try:
            use()
        except IndexError as error:
            if use is not go_on or "the log has no line" not in str(error):
                raise
        except TamponadeError as error:
            refused.append(error)
    assert path.stat().st_size <= size + 200_000, "the file has grown"
    assert not os.path.lexists(f"{path}-wal"), "a journal is left"
    if refused:
        raise refused[0]


TARGETS = (Target("case file", 3, case_file, use_case_file, beside=(".lock",)),)
