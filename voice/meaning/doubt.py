"""Why something that was said is asked instead of logged."""

from __future__ import annotations

from typing import NamedTuple

from log.basics.entry import Why


class Doubt(NamedTuple):
    """One reason to ask, for code and for people."""

    why: Why
    text: str
