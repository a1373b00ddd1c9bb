"""A tube whose limits are the site's to set, in a case that is kept all the same: the record counts, and no number is
compared with anything. Title and first caution say so wherever the case is shown.
"""

from __future__ import annotations

from log.basics.errors import InputError
from log.definition.procedure import Procedure

MARK = "RECORD ONLY, no limits"

CAUTION = (
    "RECORD ONLY: no limits are set. No volume, pressure, depth or mass is compared with a limit: "
    "only the order of steps and the clocks are."
)


def unset_limits(procedure: Procedure) -> tuple[str, ...]:
    """The limits for which no value is shipped, and the site has not set any."""
    return tuple(name for name, limit in procedure.limits.items() if limit.site_sets is not None)


def record_only(procedure: Procedure, at_this_site: Procedure) -> Procedure:
    """The definition for a case that is only recorded. Raises InputError for one that has limits, or whose limits the
    site has set, every one."""
    if len(unset_limits(procedure)) < len(procedure.limits) or not unset_limits(at_this_site):
        raise InputError(f"{procedure.id}: has limits", "leave out --record-only: the log compares every number")
    changes = {"title": f"{procedure.title} - {MARK}", "cautions": (CAUTION, *procedure.cautions)}
    return procedure.model_copy(update=changes)


def mark_of(procedure: Procedure) -> str:
    """The mark of such a case; "" for any other."""
    return MARK if procedure.cautions[0] == CAUTION else ""
