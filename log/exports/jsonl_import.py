"""A case that comes as JSON Lines from another machine, checked line by line before anything of it is kept."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import ValidationError

from log.basics.errors import IncompleteInput, InputError
from log.exports.jsonl import FORMAT, VERSION
from log.facts.record import fold
from log.rules.definitions import of_case
from log.store import case as store
from log.store.chain import Head, Link, canonical, parsed
from log.store.folder import case_names, check_name, find_case
from log.store.history import check_facts
from log.store.sqlite import why
from log.store.trust import foreign, refuse_foreign, trust
from log.store.verify import check_head, read_chain

LONGEST_LINE = 4_000_000
"""Characters. The longest fact is the opening, with its copy of the definition: some 25,000."""


@dataclass(frozen=True, slots=True)
class Imported:
    """The outcome of an import."""

    path: Path
    outcome: Literal["new", "longer", "known"]
    facts: int
    """The number of facts that are new here."""


def read_jsonl(path: Path) -> tuple[tuple[Link, ...], Head]:
    """The facts and the signed head of an export. Raises InputError with the line, IncompleteInput if its end is
    missing, and lets nothing through that does not verify."""
    first, *rest = list(_lines(path)) or [""]
    _check_opening(path, first)
    if not rest or not rest[-1].startswith('{"head"'):
        raise IncompleteInput(f"{path}: breaks off: the signed head at its end is missing", "export the case again")
    *texts, last = rest
    head = _head(path, len(rest) + 1, last)
    chain = read_chain(enumerate((_as_stored(path, n, text) for n, text in enumerate(texts, start=2)), start=1))
    for problem in (*chain.problems, *check_facts(chain.links), *check_head(chain.links, head)):
        where = f"line {problem.fact + 1}: " if problem.fact is not None else ""
        raise InputError(f"{path}: {where}{problem}", "the file was changed or damaged: export the case again")
    check_name(head.case)
    of_case(link.fact for link in chain.links)
    try:
        fold(link.fact for link in chain.links)
    except IndexError as error:
        raise InputError(f"{path}: {error}", "export the case again") from None
    return tuple(chain.links), head


def import_case(folder: Path, path: Path, encrypt: bool = False, word_for: Collection[str] = ()) -> Imported:
    """Makes the case of an export, or adds what it has more than the one that is here.

    `word_for`: public keys of other machines that somebody has compared with a note. Raises InputError for a file that
    is signed by any other, or if the two have gone different ways; StoreError if the case cannot be written.
    """
    links, head = read_jsonl(path)
    refuse_foreign(path, foreign(links, word_for), f"tamponade import {path} --key {{key}}")
    imported = _taken(folder, path, links, head, encrypt)
    trust(links[0].sha256, word_for)
    return imported


def _taken(folder: Path, path: Path, links: tuple[Link, ...], head: Head, encrypt: bool) -> Imported:
    if head.case not in case_names(folder):
        return Imported(store.restore(folder, links, head, encrypt), "new", len(links))
    here = store.read(folder, head.case).links
    for mine, other in zip(here, links, strict=False):
        if mine.text != other.text:
            raise InputError(
                f"{path}: fact {other.seq} is not the one that case {head.case} has here",
                "two different cases have this name; keep them in different folders with --cases DIR",
            )
    if len(links) <= len(here):
        return Imported(find_case(folder, head.case), "known", 0)
    with store.resume(folder, head.case) as case:
        case.take_over(links[len(here) :], head, fold(link.fact for link in links).summary)
        return Imported(case.path, "longer", len(links) - len(here))


def _lines(path: Path) -> Iterator[str]:
    try:
        with path.open(encoding="utf-8", newline="\n") as file:
            number = 0
            while line := file.readline(LONGEST_LINE + 1):
                number += 1
                if len(line) > LONGEST_LINE:
                    raise InputError(
                        f"{path}: line {number} is longer than any fact", "this is not an export of a case"
                    )
                if line.strip():
                    yield line.rstrip("\n")
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file", "check the path") from None
    except UnicodeDecodeError:
        raise InputError(f"{path}: not a text in UTF-8", "this is not an export of a case") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})", "check the path") from None


def _check_opening(path: Path, line: str) -> None:
    try:
        opening = parsed(line)
    except ValueError:
        opening = {}
    if opening.get("format") != FORMAT:
        raise InputError(
            f"{path}: not the facts of a case",
            "give a file from: tamponade export CASE --to jsonl (one without identity cannot be imported)",
        )
    if opening.get("version") != VERSION:
        raise InputError(
            f"{path}: version {json.dumps(opening.get('version'))[:20]}, wanted {VERSION}", "use the program it is from"
        )


def _as_stored(path: Path, number: int, text: str) -> str:
    """The line as a case holds it: exports escape what would steer a terminal."""
    try:
        return canonical(parsed(text))
    except ValueError as error:
        raise InputError(f"{path}: line {number}: {why(error)}", "the file was changed or damaged") from None


def _head(path: Path, number: int, text: str) -> Head:
    try:
        return Head.model_validate(parsed(text).get("head"))
    except (ValueError, ValidationError) as error:
        raise InputError(f"{path}: line {number}: {why(error)}", "the file was changed or damaged") from None
