"""Who is treated and what was heard lie beside the facts, so that they can be deleted: the facts say that they were."""

from __future__ import annotations

from datetime import datetime

from log.basics.errors import InputError
from log.facts.events import Fact, IdentifiersGiven, IdentifiersRemoved, SoundsRemoved
from log.scribe.ledger import Ledger
from log.store.identifiers import Identifiers, sealed
from log.store.writing import beside


def identify(ledger: Ledger, identifiers: Identifiers, by: str, at: datetime) -> tuple[Fact, ...]:
    """Keeps a block of identifiers beside the facts; an older one is deleted. Raises StoreError."""
    block = beside("identifiers", sealed(identifiers))
    given, old = IdentifiersGiven(logged_at=at, sha256=block.sha256, author=by), ledger.record.identified
    if old is None:
        return ledger.add((given,), (block,))
    return ledger.remove((given, _forgotten(old, "replaced by a newer one", by, at)), (old.sha256,), (block,))


def forget_identifiers(ledger: Ledger, reason: str, by: str, at: datetime) -> tuple[Fact, ...]:
    """Deletes the block of identifiers. Raises InputError if there is none, StoreError."""
    old = ledger.record.identified
    if old is None:
        raise InputError("this case has no block of identifiers", "there is nothing to remove")
    return ledger.remove((_forgotten(old, reason, by, at),), (old.sha256,))


def forget_sounds(ledger: Ledger, sha256: tuple[str, ...], reason: str, by: str, at: datetime) -> tuple[Fact, ...]:
    """Deletes sounds; what was heard in them stays. Raises StoreError."""
    return ledger.remove((SoundsRemoved(logged_at=at, sha256=sha256, reason=reason, author=by),), sha256)


def _forgotten(old: IdentifiersGiven, reason: str, by: str, at: datetime) -> IdentifiersRemoved:
    return IdentifiersRemoved(logged_at=at, sha256=(old.sha256,), reason=reason, author=by)
