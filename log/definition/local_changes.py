"""The changes of a hospital's override one by one: the shipped value with its source, the local value, and whether
that is looser. Whoever signs a local protocol reads this, and nothing that loosens may look like the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Literal

from log.basics.patterns import LEVELS, Sourced
from log.definition.limits import Limit
from log.definition.override import Override, OverrideLimit, apply
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.definition.protocol import Milestone

Direction = Literal["looser", "stricter", "looser and stricter", "left out", "set", "changed", "as shipped"]
"""`set`: nothing was shipped. `changed`: neither looser nor stricter, as far as a program can tell."""

LOUD: frozenset[Direction] = frozenset(("looser", "looser and stricter", "left out"))
"""Changes that take away a warning of the shipped definition."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that is not as shipped."""

    path: str
    """Where it stands in the override: "limits.oesophageal_ceiling"."""
    what: str
    shipped: str
    standing: str
    """Tag and sources of what was shipped; empty where nothing was."""
    local: str
    direction: Direction


def changes(procedure: Procedure, override: Override) -> tuple[Change, ...]:
    """All that an override which fits does to a definition, limits first, as they stand in the definition."""
    return (
        *_limits(procedure, override),
        *_steps(procedure, override),
        *_watch(procedure, override),
    )


def unchanged(procedure: Procedure, override: Override) -> tuple[str, ...]:
    """Names of the limits that stay as shipped."""
    return tuple(
        name for name, limit in procedure.limits.items() if name not in override.limits and limit.site_sets is None
    )


def doubts(procedure: Procedure, override: Override, today: date) -> Iterator[Problem]:
    """Points to mend before signing, as (place in the override, point and remedy). None of it keeps the file
    from being used, except a limit that a site has to set and has not."""
    if override.approved_on > today:
        yield "approved_on", f"{override.approved_on} is still to come: give the day on which it was approved"
    if not override.reason.strip():
        yield "reason", "no reason is given: say in a sentence why this site differs"
    for name, limit in procedure.limits.items():
        if limit.site_sets is not None and name not in override.limits:
            wants = " and ".join(limit.site_sets.wants)
            yield f"limits.{name}", f"has to be set before a case can be kept: write {wants} ({limit.unit})"
    for change in changes(procedure, override):
        if change.direction == "as shipped":
            yield change.path, "is as shipped, but is called local from now on: take it out"
    yield from _contradictions(apply(procedure, override))


def _contradictions(applied: Procedure) -> Iterator[Problem]:
    down = applied.watch.step_down if applied.watch else None
    for name, limit, of in applied.held:
        if limit.max is None or of.when != "balloon up":
            continue
        ceiling = applied.limits[of.unless].max if of.unless in applied.limits else None
        if ceiling is not None and limit.max > ceiling:
            what = f"its max {limit.max:g} lies above the ceiling {ceiling:g}: lower it, or the ceiling rules it out"
            yield f"limits.{name}", what
        if down and of.site == applied.tube.oesophagus and down.down_to_mmhg > limit.max:
            what = f"{down.down_to_mmhg:g} lies above the highest working pressure {limit.max:g}: lower it"
            yield "watch.step_down.down_to_mmhg", what


def _limits(procedure: Procedure, override: Override) -> Iterator[Change]:
    applied = apply(procedure, override)
    for name, shipped in procedure.limits.items():
        if name not in override.limits:
            continue
        local = applied.limits[name]
        before, after = shipped.bounds, local.bounds
        if local.level != shipped.level:
            before, after = f"{before}, {shipped.level}", f"{after}, {local.level}"
        yield Change(
            f"limits.{name}",
            shipped.about,
            before,
            _standing(shipped.site_sets or shipped),
            after,
            _direction(shipped, override.limits[name]),
        )


def _direction(shipped: Limit, change: OverrideLimit) -> Direction:
    if shipped.site_sets is not None:
        return "set"
    moves = []
    if change.max is not None:
        moves.append(change.max - shipped.max if shipped.max is not None else -1.0)
    if change.min is not None:
        moves.append(shipped.min - change.min if shipped.min is not None else -1.0)
    if change.level is not None:
        moves.append(float(LEVELS.index(change.level) - LEVELS.index(shipped.level)))
    looser, stricter = any(move > 0 for move in moves), any(move < 0 for move in moves)
    if looser and stricter:
        return "looser and stricter"
    return "looser" if looser else "stricter" if stricter else "as shipped"


def _steps(procedure: Procedure, override: Override) -> Iterator[Change]:
    shipped = {step.id: step for step in procedure.milestone}
    for step in override.milestone:
        old = shipped.get(step.id)
        same = old is not None and old.model_copy(update={"tag": step.tag, "source": step.source}) == step
        direction: Direction = "as shipped" if same else "changed" if old else "stricter"
        if old and old.prompted and not step.prompted:
            direction = "looser"
        yield Change(
            f"milestone {step.id}",
            step.title,
            _step(old) if old else "no such step",
            _standing(old) if old else "",
            _step(step) + (f" (differs in {', '.join(_differing(old, step))})" if old and not same else ""),
            direction,
        )
    for name in override.leave_out:
        if (gone := shipped.get(name)) is not None:
            yield Change("leave_out", gone.title, _step(gone), _standing(gone), "nobody is reminded of it", "left out")


def _differing(old: Milestone, new: Milestone) -> list[str]:
    standing = set(Sourced.model_fields)
    return [
        field
        for field in type(old).model_fields
        if getattr(old, field) != getattr(new, field) and field not in standing
    ]


def _step(step: Milestone) -> str:
    after = f", after {' and '.join(step.after)}" if step.after else ""
    return f'step "{step.title}"{after}{"" if step.prompted else ", not prompted"}'


def _watch(procedure: Procedure, override: Override) -> Iterator[Change]:
    plan, own = procedure.watch, override.watch
    if plan is None or own is None:
        return
    for check in plan.check:
        if check.id in own.checks:
            every = own.checks[check.id].every_h
            yield Change(
                f"watch.checks.{check.id}",
                check.title,
                f"every {check.every_h:g} h",
                _standing(check),
                f"every {every:g} h",
                _toward(every - check.every_h),
            )
    if own.step_down is not None and (down := plan.step_down) is not None:
        for field, unit in (("step_mmhg", "mmHg"), ("every_h", "h"), ("down_to_mmhg", "mmHg")):
            value, old = getattr(own.step_down, field), getattr(down, field)
            if value is not None:
                yield Change(
                    f"watch.step_down.{field}",
                    f"step-down: {STEP_DOWN[field]}",
                    f"{old:g} {unit}",
                    _standing(down),
                    f"{value:g} {unit}",
                    "as shipped" if value == old else "changed",
                )
    if own.deflation is not None:
        in_words_now = f"every {own.deflation.every_h:g} h for {own.deflation.for_min:g} min"
        unset = plan.deflation_not_set
        before = plan.deflation
        yield Change(
            "watch.deflation",
            "intermittent deflation",
            f"every {before.every_h:g} h for {before.for_min:g} min" if before else "no interval is shipped",
            _standing(before or unset),
            in_words_now,
            "changed" if before else "set",
        )


STEP_DOWN = {"step_mmhg": "pressure a step", "every_h": "time between steps", "down_to_mmhg": "lowest pressure"}


def _toward(further: float) -> Direction:
    return "looser" if further > 0 else "stricter" if further < 0 else "as shipped"


def _standing(part: Sourced) -> str:
    return f"[{part.tag}{': ' if part.source else ''}{', '.join(part.source)}]"
