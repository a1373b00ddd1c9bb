"""Checks that a definition hangs together: every name that it uses is there, and everything the rules need has a
source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from log.basics.patterns import Pattern, Sourced
from log.basics.units import UNITS
from log.definition.kinds import Say
from log.definition.limits import ORIGINAL
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.definition.protocol import Tube, ancestors
from log.definition.reads import Read, lacking, misled, unread
from log.definition.slots import part_names, slot_names
from log.definition.watch_plan import Check, Choosable


def problems(procedure: Procedure, reads: Sequence[Read]) -> Iterator[Problem]:
    """All that is wrong with a definition, as (dotted path, what is wrong). `reads`: what the rules look up."""
    yield from _tube(procedure.tube)
    yield from _duplicate_ids(procedure)
    yield from _phrase_references(procedure)
    yield from _clinical_references(procedure)
    yield from milestone_problems(procedure)
    yield from _position_references(procedure)
    yield from misled(procedure)
    yield from lacking(procedure, reads)
    yield from unread(procedure, reads)


def _tube(tube: Tube) -> Iterator[Problem]:
    for field in ("in_stomach", "in_oesophagus"):
        name = getattr(tube, field)
        if name is not None and name not in tube.balloons:
            yield f"tube.{field}", f'the tube has no balloon called "{name}"'
    if tube.stomach is None and tube.oesophagus is None:
        yield "tube.balloons", f'say where they lie: in_stomach = "{tube.balloons[0]}"'


def _position_references(procedure: Procedure) -> Iterator[Problem]:
    """Position checks that take each other back have to be sayable."""
    kind = procedure.kind_named("position_check")
    said = {(say.value, say.detail) for say in kind.say} if kind is not None else set()
    for number, position in enumerate(procedure.position):
        for value in ("passed", "failed"):
            if (value, getattr(position, value)) not in said:
                what = f'there is no position check that {value} named "{getattr(position, value)}"'
                yield f"position[{number}].{value}", what


def _duplicate_ids(procedure: Procedure) -> Iterator[Problem]:
    for field in ("kind", "order", "clock", "milestone"):
        seen: set[str] = set()
        for number, item in enumerate(getattr(procedure, field)):
            if item.id in seen:
                yield f"{field}[{number}].id", f'"{item.id}" stands twice'
            seen.add(item.id)


def _phrase_references(procedure: Procedure) -> Iterator[Problem]:
    for path, text in procedure.templates():
        for name in slot_names(text):
            if name not in procedure.slots:
                yield path, f'there is no slot named "{name}"'
        for name in part_names(text):
            if name not in procedure.parts:
                yield path, f'there is no part named "{name}"'
    for where, kind in enumerate(procedure.kind):
        for which, say in enumerate(kind.say):
            yield from _doubly_filled(procedure, f"kind[{where}].say[{which}]", say)


def _doubly_filled(procedure: Procedure, path: str, say: Say) -> Iterator[Problem]:
    for number, phrase in enumerate(say.phrases):
        fixed = {name for name in ("site", "value", "detail") if getattr(say, name) is not None}
        for name in slot_names(phrase):
            slot = procedure.slots.get(name)
            field = slot.gives if slot is not None else "value"
            if slot is not None and field in fixed:
                yield f"{path}.phrases[{number}]", f"slot {{{name}}} fills {field}, which is already filled"
            fixed.add(field)


def _clinical_references(procedure: Procedure) -> Iterator[Problem]:
    for name, limit in procedure.limits.items():
        yield from _unknown_sources(procedure, f"limits.{name}", limit)
        if limit.site_sets is not None:
            yield from _unknown_sources(procedure, f"limits.{name}.site_sets", limit.site_sets)
    for name, rule in procedure.rules.items():
        yield from _unknown_sources(procedure, f"rules.{name}", rule)
    for number, order in enumerate(procedure.order):
        yield from _unknown_sources(procedure, f"order[{number}]", order)
        for side in ("first", "then"):
            yield from _unknown_kind(procedure, f"order[{number}].{side}", getattr(order, side))
    for number, clock in enumerate(procedure.clock):
        for path, pattern in (
            (f"clock[{number}].starts", clock.starts),
            *((f"clock[{number}].stops[{i}]", stop) for i, stop in enumerate(clock.stops)),
            *((f"clock[{number}].pauses[{i}]", pause) for i, pause in enumerate(clock.pauses or ())),
        ):
            yield from _unknown_kind(procedure, path, pattern)
        for i, due in enumerate(clock.due):
            yield from _unknown_sources(procedure, f"clock[{number}].due[{i}]", due)
            for j, pattern in enumerate(due.silenced_by or ()):
                yield from _unknown_kind(procedure, f"clock[{number}].due[{i}].silenced_by[{j}]", pattern)
    for number, medicine in enumerate(procedure.medicine or ()):
        yield from _unknown_sources(procedure, f"medicine[{number}]", medicine)
        if medicine.unit not in UNITS:
            yield f"medicine[{number}].unit", f'"{medicine.unit}" is no unit that a dose can be logged in'
    for name in ("manometry", "companion"):
        if getattr(procedure, name) is not None:
            yield from _unknown_sources(procedure, name, getattr(procedure, name))
    for name in ("airway", "cut") if procedure.emergency is not None else ():
        for number, one in enumerate(getattr(procedure.emergency, name)):
            yield from _unknown_sources(procedure, f"emergency.{name}[{number}]", one)
    yield from _watch_references(procedure)


def _watch_references(procedure: Procedure) -> Iterator[Problem]:
    plan = procedure.watch
    if plan is None:
        return
    remarks = ("deflation_not_set", "gastric_stays", "observe_not_set")
    for field in ("late", "ignored", "trend", "step_down", "deflation", "observe", *remarks):
        part = getattr(plan, field)
        if part is not None:
            yield from _unknown_sources(procedure, f"watch.{field}", part)
    if plan.step_down is not None:
        yield from _unknown_kind(procedure, "watch.step_down.controlled", plan.step_down.controlled)
        yield from _unknown_kind(procedure, "watch.step_down.bleeding", plan.step_down.bleeding)
    seen: set[str] = set()
    checks: list[tuple[str, Check | Choosable]] = [(f"watch.check[{i}]", one) for i, one in enumerate(plan.check)]
    checks += [(f"watch.chosen[{i}]", one) for i, one in enumerate(plan.chosen)]
    for path, check in checks:
        if check.id in seen:
            yield f"{path}.id", f'"{check.id}" stands twice'
        seen.add(check.id)
        yield from _unknown_sources(procedure, path, check)
        for field, patterns in (("starts", (check.starts,)), ("stops", check.stops), ("done", check.done)):
            for i, pattern in enumerate(patterns):
                where = f"{path}.{field}" if field == "starts" else f"{path}.{field}[{i}]"
                yield from _unknown_kind(procedure, where, pattern)
    for number, waiting in enumerate(plan.waiting or ()):
        path = f"watch.waiting[{number}]"
        if waiting.id in seen:
            yield f"{path}.id", f'"{waiting.id}" stands twice'
        seen.add(waiting.id)
        yield from _unknown_sources(procedure, path, waiting)
        for pattern in (waiting.since, *waiting.until):
            yield from _unknown_kind(procedure, path, pattern)


def milestone_problems(procedure: Procedure) -> Iterator[Problem]:
    """Milestones that name what is not there, or wait for each other."""
    names = {milestone.id for milestone in procedure.milestone}
    for number, milestone in enumerate(procedure.milestone):
        path = f"milestone[{number}]"
        yield from _unknown_sources(procedure, path, milestone)
        for field in ("done", "only_if", "undone"):
            for i, pattern in enumerate(getattr(milestone, field)):
                yield from _unknown_kind(procedure, f"{path}.{field}[{i}]", pattern)
        single = ((field, getattr(milestone, field)) for field in ("since", "before"))
        for field, wanted in (("after", milestone.after), *((field, (one,)) for field, one in single if one)):
            for name in wanted:
                if name not in names:
                    yield (
                        f"{path}.{field}",
                        f'there is no milestone named "{name}": name one of the others, or leave it out',
                    )
        if milestone.keeps is not None and milestone.keeps not in (*procedure.limits, *ORIGINAL):
            yield f"{path}.keeps", f'there is no limit named "{milestone.keeps}"'
        if milestone.id in ancestors(procedure.milestone, milestone.id):
            yield f"{path}.after", f'"{milestone.id}" would have to come before itself: take one out of the circle'


def _unknown_sources(procedure: Procedure, path: str, backed: Sourced) -> Iterator[Problem]:
    for key in backed.source:
        if key not in procedure.sources:
            yield f"{path}.source", f'there is no source named "{key}"'


def _unknown_kind(procedure: Procedure, path: str, pattern: Pattern) -> Iterator[Problem]:
    if procedure.kind_named(pattern.kind) is None:
        yield f"{path}.kind", f'there is no kind of entry named "{pattern.kind}"'
    if pattern.site is not None and pattern.site not in (*procedure.tube.balloons, "both"):
        yield f"{path}.site", f'the tube has no balloon called "{pattern.site}"'
