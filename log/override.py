"""What one hospital changes in a shipped definition, who approved it and when. Only limits can be changed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from pydantic import Field

from log.procedure import Identifier, Level, Limit, Part, Procedure


class Override(Part):
    """What one hospital changes, who approved it and when. Only limits can be changed, never phrases or order."""

    procedure: Identifier
    approved_by: str = Field(min_length=1)
    approved_on: date
    reason: str = ""
    limits: Mapping[Identifier, OverrideLimit]


class OverrideLimit(Part):
    """The new bounds and, if wanted, the new priority; fields left out stay as shipped."""

    min: float | None = None
    max: float | None = None
    level: Level | None = None


def apply(procedure: Procedure, override: Override) -> Procedure:
    """The definition with the local bounds in force; each changed limit says so in its source and advice.

    Raises KeyError for a limit the definition does not have and ValueError for bounds that contradict each other.
    """
    limits = dict(procedure.limits)
    sources = dict(procedure.sources)
    sources["local"] = f"local protocol approved by {override.approved_by} on {override.approved_on.isoformat()}"
    for name, change in override.limits.items():
        shipped = limits[name]
        changes = {**shipped.model_dump(), **change.model_dump(exclude_none=True)}
        changes |= {
            "tag": "local",
            "source": ("local",),
            "advice": f"{shipped.advice} (Shipped: {shipped.bounds}, {', '.join(shipped.source) or shipped.tag}.)",
        }
        limits[name] = Limit.model_validate(changes)
    return procedure.model_copy(update={"limits": limits, "sources": sources})
