"""A case in one row: what a list of cases shows, kept beside the facts so that none has to be read for it."""

from __future__ import annotations

from log.basics.entry import Frozen


class Summary(Frozen):
    """A case as a list of cases shows it."""

    case: str = ""
    label: str = ""
    began: str = ""
    """RFC 3339; "" for a case without an opening."""
    entries: int = 0
    asked: int = 0
    findings: int = 0
    """Open ones."""
    simulation: str = ""
    """The scenario of a rehearsal."""
    closed: bool = False
