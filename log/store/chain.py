"""The chain of fingerprints, so that nobody has to take our word for the log: each fact carries the fingerprint of the
one before it, so that none can be changed, left out or put in later without every fingerprint after it being wrong.

A fact is written as one line of canonical JSON (RFC 8785) with its number `seq` and `previous`, the SHA-256 of the
line before it; the first has null. Anyone can check a chain with a JSON library and SHA-256 alone. That no facts are
missing at the end is what the signed head says: number of facts, fingerprint of the last, and an Ed25519 signature
(RFC 8032) by the key whose public part stands in the facts.

A line of the store is a line of the export. Its fingerprint needs no knowledge of our models, so a fact written by an
older version keeps its fingerprint for ever.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any, NamedTuple

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from log.basics.entry import Frozen
from log.facts.events import CaseOpened, CaseResumed, Fact, from_plain, to_plain


class Link(NamedTuple):
    """One fact in its place."""

    seq: int
    """From 1."""
    previous: str | None
    """SHA-256 of the line before it; None for the first."""
    fact: Fact
    text: str
    """The line as it is stored."""

    @property
    def sha256(self) -> str:
        """The fingerprint that the next fact carries."""
        return fingerprint(self.text)


class Head(Frozen):
    """Where a chain ends, and who vouches for it."""

    case: str
    facts: int
    sha256: str
    """SHA-256 of the last line."""
    public_key: str
    signature: str
    """Over canonical JSON of case, facts and sha256; 128 hexadecimal digits."""


def canonical(plain: Any) -> str:
    """Canonical JSON as RFC 8785 has it. Raises ValueError for what has none."""
    try:
        text = _canonical(plain)
    except rfc8785.CanonicalizationError as error:
        raise ValueError(str(error)) from None
    except RecursionError:
        raise ValueError("nested too deeply") from None
    text.encode()  # half a surrogate pair is no text
    return text


_QUOTED = json.JSONEncoder(ensure_ascii=False).encode
"""A text as RFC 8785 writes it. A definition is 200 kB in one text: this is many times faster than rfc8785."""


def _canonical(plain: Any) -> str:
    if isinstance(plain, str):
        return _QUOTED(plain)
    if isinstance(plain, dict) and all(isinstance(key, str) for key in plain):
        items = sorted(plain.items(), key=lambda item: item[0].encode("utf-16-be"))
        return "{" + ",".join([f"{_QUOTED(key)}:{_canonical(value)}" for key, value in items]) + "}"
    if isinstance(plain, list | tuple):
        return "[" + ",".join(map(_canonical, plain)) + "]"
    return rfc8785.dumps(plain).decode()


def fingerprint(text: str) -> str:
    """SHA-256 of a text in UTF-8, as 64 hexadecimal digits."""
    return hashlib.sha256(text.encode()).hexdigest()


def linked(facts: Iterable[Fact], seq: int = 0, previous: str | None = None) -> list[Link]:
    """Facts as the links that follow number `seq` with the fingerprint `previous`."""
    links = []
    for fact in facts:
        seq += 1
        text = canonical({**to_plain(fact), "previous": previous, "seq": seq})
        links.append(Link(seq, previous, fact, text))
        previous = fingerprint(text)
    return links


def parsed(text: str) -> dict[str, Any]:
    """The JSON object of a line. Raises ValueError for what is none, however it is meant to break the reader."""
    if not isinstance(text, str):
        raise ValueError("not text")
    try:
        plain = json.loads(text)
    except RecursionError:
        raise ValueError("nested too deeply") from None
    if not isinstance(plain, dict):
        raise ValueError("not a JSON object")
    return plain


def read_link(text: str) -> Link:
    """The link that a stored line says. Raises ValueError (pydantic's included) for what is none."""
    plain = parsed(text)
    seq, previous = plain.pop("seq", None), plain.pop("previous", None)
    if type(seq) is not int or not isinstance(previous, str | None):
        raise ValueError("seq has to be a whole number and previous a fingerprint or null")
    return Link(seq, previous, from_plain(plain), text)


def to_sign(case: str, facts: int, sha256: str) -> bytes:
    """The bytes of a head that are signed."""
    return canonical({"case": case, "facts": facts, "sha256": sha256}).encode()


def vouched(case: str, facts: int, sha256: str, public_key: str, signature: str) -> bool:
    """Whether this key signed this head."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_key))
        key.verify(bytes.fromhex(signature), to_sign(case, facts, sha256))
    except (ValueError, InvalidSignature):
        return False
    return True


class Stretch(NamedTuple):
    """Facts that one key vouches for."""

    first: int
    last: int
    """Both by number, both among them."""
    public_key: str


def stretches(links: Iterable[Link]) -> tuple[Stretch, ...]:
    """Which key vouches for which facts, in order; nothing for what comes before a key is named."""
    found: list[Stretch] = []
    for link in links:
        named = link.fact.public_key if isinstance(link.fact, CaseOpened | CaseResumed) else None
        if found and named in (None, found[-1].public_key):
            found[-1] = found[-1]._replace(last=link.seq)
        elif named is not None:
            found.append(Stretch(link.seq, link.seq, named))
    return tuple(found)


def key_in_force(facts: Iterable[Fact]) -> str:
    """The public key that vouches for the newest facts; "" if none was ever named."""
    keys = [fact.public_key for fact in facts if isinstance(fact, CaseOpened | CaseResumed)]
    return keys[-1] if keys else ""
