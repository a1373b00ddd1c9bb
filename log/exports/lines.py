"""The audit trail: every fact of the case in the order in which it was written down, nothing left out or added up.

The first line says what the file is and carries the cautions; each line after it is one fact with its number.
Only ASCII is written, so that no heard word can steer the terminal on which somebody looks at the file.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from log.events import to_json
from log.procedure import Procedure
from log.store import Stored

FORMAT = "tamponade-log facts"
VERSION = 1


def as_jsonl(procedure: Procedure, facts: Sequence[Stored]) -> str:
    """The facts as JSON Lines."""
    head = {"format": FORMAT, "version": VERSION, "cautions": procedure.cautions}
    return "".join(_line(item) for item in (head, *({"seq": seq, **json.loads(to_json(fact))} for seq, fact in facts)))


def _line(item: dict[str, Any]) -> str:
    return json.dumps(item, ensure_ascii=True).replace("\x7f", "\\u007f") + "\n"
