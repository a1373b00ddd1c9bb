"""The changes of one hospital to a shipped definition, who approved it and when: limits, the steps the room is
reminded of, and the watch. Phrases, rules and order stay as shipped.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from pydantic import Field

from log.basics.patterns import Identifier, Level, Part
from log.definition.check import milestone_problems
from log.definition.limits import Limit
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.definition.protocol import Milestone
from log.definition.watch_plan import OverrideWatch, localised, watch_misfits


class Override(Part):
    """The changes of one hospital, who approved them and when. Phrases, rules and order cannot be changed."""

    procedure: Identifier
    """The `id` of the definition that is changed."""
    approved_by: str = Field(min_length=1)
    """Who approved it: a group or a function; it is printed beside every finding of a changed limit."""
    approved_on: date
    """When."""
    reason: str = ""
    """Why this site differs."""
    limits: Mapping[Identifier, OverrideLimit] = Field(default_factory=dict)
    """New bounds by the name of the limit, as `tamponade procedures show` lists them."""
    milestone: tuple[Milestone, ...] = ()
    """Steps in place of the shipped ones of the same id, and new ones."""
    leave_out: tuple[Identifier, ...] = ()
    """Steps that nobody is to be reminded of here; what came after them comes after what came before them."""
    watch: OverrideWatch | None = None
    """Intervals of the checks here, how the pressure is stepped down, and how often a balloon is deflated."""


class OverrideLimit(Part):
    """The new bounds and, if wanted, the new priority; fields left out stay as shipped."""

    min: float | None = None
    """The lowest value that keeps it, in the unit of the shipped limit."""
    max: float | None = None
    """The highest value that keeps it, in the unit of the shipped limit."""
    level: Level | None = None
    """The priority of the finding."""


def apply(procedure: Procedure, override: Override) -> Procedure:
    """The definition with the local bounds in force; each changed limit says so in its source and advice.

    Raises KeyError for a limit the definition does not have and ValueError for bounds that contradict each other.
    """
    limits = dict(procedure.limits)
    for name, change in override.limits.items():
        shipped = limits[name]
        changes = {**shipped.model_dump(), **change.model_dump(exclude_none=True)}
        changes |= {
            "tag": "local",
            "source": ("local",),
            "advice": f"{shipped.advice} ({_as_shipped(shipped)})",
            "site_sets": None,
        }
        limits[name] = Limit.model_validate(changes)
    milestones = steps(procedure, override)
    watch = procedure.watch
    if watch is not None and override.watch is not None:
        watch = localised(watch, override.watch)
    return procedure.model_copy(
        update={"limits": limits, "sources": _sources(procedure, override), "milestone": milestones, "watch": watch}
    )


def _sources(procedure: Procedure, override: Override) -> dict[str, str]:
    approved = f"local protocol approved by {override.approved_by} on {override.approved_on.isoformat()}"
    return {**procedure.sources, "local": approved}


def _as_shipped(limit: Limit) -> str:
    if limit.site_sets is not None:
        return "No value is shipped."
    return f"Shipped: {limit.bounds}, {', '.join(limit.source) or limit.tag}."


def steps(procedure: Procedure, override: Override) -> tuple[Milestone, ...]:
    """The milestones with the local ones in their place."""
    local = {
        milestone.id: milestone.model_copy(update={"tag": "local", "source": ("local",)})
        for milestone in override.milestone
    }
    merged = [local.pop(milestone.id, milestone) for milestone in procedure.milestone]
    merged += local.values()
    for name in override.leave_out:
        before = next((milestone.after for milestone in merged if milestone.id == name), ())
        merged = [_without(milestone, name, before) for milestone in merged if milestone.id != name]
    return tuple(merged)


def _without(milestone: Milestone, name: str, before: tuple[str, ...]) -> Milestone:
    after = dict.fromkeys(
        one for known in milestone.after for one in (before if known == name else (known,)) if one != milestone.id
    )
    since = None if milestone.since == name else milestone.since
    until = None if milestone.before == name else milestone.before
    return milestone.model_copy(update={"after": tuple(after), "since": since, "before": until})


def misfits(override: Override, procedure: Procedure) -> Iterator[Problem]:
    """Problems of an override with the definition, each with its place in the override."""
    if override.procedure != procedure.id:
        yield "procedure", f'is for "{override.procedure}", but the definition in use is "{procedure.id}"'
    if not override.model_fields_set & {"limits", "milestone", "leave_out", "watch"}:
        yield "limits", "Field required: nothing is changed without limits, milestones, leave_out or watch"
    if override.watch is not None:
        yield from watch_misfits(procedure.watch, override.watch)
    names = dict.fromkeys(milestone.id for milestone in (*procedure.milestone, *override.milestone))
    for name in override.leave_out:
        if name not in names:
            yield "leave_out", f"{name} is not a milestone of {procedure.id}; there are {', '.join(names)}"
    merged = procedure.model_copy(
        update={"milestone": steps(procedure, override), "sources": _sources(procedure, override)}
    )
    for path, what in milestone_problems(merged):
        yield _in_the_override(path, merged, override), what
    for name, change in override.limits.items():
        if name not in procedure.limits:
            yield f"limits.{name}", f"not a limit of {procedure.id}; there are {', '.join(procedure.limits)}"
            continue
        shipped_limit = procedure.limits[name]
        wanted = shipped_limit.site_sets.wants if shipped_limit.site_sets else ()
        for bound in (bound for bound in wanted if getattr(change, bound) is None):
            yield f"limits.{name}", f"no {bound} is shipped: set {bound} as well"
        low = change.min if change.min is not None else shipped_limit.min
        high = change.max if change.max is not None else shipped_limit.max
        if low is not None and high is not None and low > high:
            yield f"limits.{name}", f"min {low:g} is above max {high:g}"


def _in_the_override(path: str, merged: Procedure, override: Override) -> str:
    """The place in the override's own file: the number of its milestone, not of all."""
    number, _, field = path.removeprefix("milestone[").partition("]")
    name = merged.milestone[int(number)].id
    own = [milestone.id for milestone in override.milestone]
    return f"milestone[{own.index(name)}]{field}" if name in own else f"milestone {name}{field}"
