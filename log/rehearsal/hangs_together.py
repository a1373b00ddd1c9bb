"""Checks that a scenario hangs together: every name in it is there, in itself or in the definition it is logged by."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from log.basics.patterns import Pattern
from log.definition.kinds import Kind
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.definition.slots import ChoiceSlot, slot_names
from log.rehearsal.patient import WORDS
from log.rehearsal.scenario import Event, Scenario, Shown

BRACES = re.compile(r"\{([^{}]*)\}")


def scenario_problems(scenario: Scenario, procedure: Procedure) -> Iterator[Problem]:
    """References that lead nowhere, as (dotted path, what is wrong)."""
    yield from _twice("event", (event.id for event in scenario.event))
    yield from _twice("wanted", (wanted.id for wanted in scenario.wanted))
    for path, pattern in _patterns(scenario):
        yield from _cannot_be_said(procedure, path, pattern.kind, pattern.site, pattern.value)
    for number, event in enumerate(scenario.event):
        yield from _event(procedure, f"event[{number}]", event)
    events, wanted = {event.id for event in scenario.event}, {one.id for one in scenario.wanted}
    yield from _circles(scenario)
    for path, name, kind in _names(scenario):
        if name is not None and name not in (events if kind == "event" else wanted):
            yield path, f'there is no {kind} named "{name}"'
    rules = _rules(procedure)
    for path, rule in _named_rules(scenario):
        if rule is not None and rule not in rules:
            yield path, f'the definition has no rule, limit or order called "{rule}"'
    if not any(event.ends for event in scenario.event):
        yield "event", "none of them ends the rehearsal: give one ends = true"


def _twice(what: str, names: Iterable[str]) -> Iterator[Problem]:
    seen: set[str] = set()
    for number, name in enumerate(names):
        if name in seen:
            yield f"{what}[{number}].id", f'"{name}" stands twice'
        seen.add(name)


def _patterns(scenario: Scenario) -> Iterator[tuple[str, Pattern]]:
    for number, event in enumerate(scenario.event):
        if event.after is not None and event.after.entry is not None:
            yield f"event[{number}].after.entry", event.after.entry
        yield from ((f"event[{number}].unless[{i}]", pattern) for i, pattern in enumerate(event.unless))
    for number, wanted in enumerate(scenario.wanted):
        yield from ((f"wanted[{number}].entry[{i}]", pattern) for i, pattern in enumerate(wanted.entry))
    for number, never in enumerate(scenario.never):
        if never.entry is not None:
            yield f"never[{number}].entry", never.entry


def _event(procedure: Procedure, path: str, event: Event) -> Iterator[Problem]:
    milestone = event.after.milestone if event.after is not None else None
    if milestone is not None and milestone not in {one.id for one in procedure.milestone}:
        yield f"{path}.after.milestone", f'the definition has no milestone called "{milestone}"'
    yield from _braces(f"{path}.tell", event.tell)
    for number, shown in enumerate(event.shows):
        yield from _shown(procedure, f"{path}.shows[{number}]", shown)


def _shown(procedure: Procedure, path: str, shown: Shown) -> Iterator[Problem]:
    word = shown.value if isinstance(shown.value, str) and not BRACES.search(shown.value) else None
    yield from _cannot_be_said(procedure, path, shown.kind, shown.site, word)
    if isinstance(shown.value, str):
        yield from _braces(f"{path}.value", shown.value)
    elif procedure.number_slot(shown.kind) is None and procedure.kind_named(shown.kind) is not None:
        yield f"{path}.value", f"{shown.kind} takes no number"


def _braces(path: str, text: str) -> Iterator[Problem]:
    for name in BRACES.findall(text):
        if name not in WORDS:
            yield path, f'the patient has no "{{{name}}}": write one of {", ".join(f"{{{word}}}" for word in WORDS)}'


def _cannot_be_said(
    procedure: Procedure, path: str, kind: str, site: str | None, value: str | None
) -> Iterator[Problem]:
    found = procedure.kind_named(kind)
    if found is None or found.role == "command":
        yield f"{path}.kind", f'there is no kind of entry named "{kind}"'
        return
    for field, wanted in (("site", site), ("value", value)):
        if wanted is not None and wanted not in _sayable(procedure, found, field):
            yield f"{path}.{field}", f'{kind} is never said with the {field} "{wanted}"'


def _sayable(procedure: Procedure, kind: Kind, field: str) -> set[str]:
    """All that can come to stand in this field of an entry of this kind."""
    found = {str(getattr(say, field)) for say in kind.say if getattr(say, field) is not None}
    for say in kind.say:
        for name in {name for phrase in say.phrases for name in slot_names(phrase)}:
            slot = procedure.slots.get(name)
            if isinstance(slot, ChoiceSlot) and slot.gives == field:
                found |= set(slot.values)
    return found


def _circles(scenario: Scenario) -> Iterator[Problem]:
    order = [wanted.id for wanted in scenario.wanted]
    for number, wanted in enumerate(scenario.wanted):
        if wanted.follows in order[number:]:
            yield f"wanted[{number}].follows", f'"{wanted.follows}" has to stand further up'


def _names(scenario: Scenario) -> Iterator[tuple[str, str | None, str]]:
    """Every reference inside the scenario: where, to what, and of which sort that is."""
    for number, event in enumerate(scenario.event):
        yield f"event[{number}].since", event.since, "event"
        yield f"event[{number}].unless_event", event.unless_event, "event"
        yield f"event[{number}].after.event", event.after.event if event.after else None, "event"
    for number, wanted in enumerate(scenario.wanted):
        for field in ("since", "until", "only_if", "shown"):
            yield f"wanted[{number}].{field}", getattr(wanted, field), "event"
        yield f"wanted[{number}].follows", wanted.follows, "wanted"
    for number, pair in enumerate(scenario.in_order):
        yield f"in_order[{number}].first", pair.first, "wanted"
        yield f"in_order[{number}].then", pair.then, "wanted"
    for number, never in enumerate(scenario.never):
        yield f"never[{number}].since", never.since, "event"
        yield f"never[{number}].until", never.until, "event"
    for number, answer in enumerate(scenario.answer):
        yield f"answer[{number}].by", answer.by, "wanted"


def _named_rules(scenario: Scenario) -> Iterator[tuple[str, str | None]]:
    yield from ((f"never[{number}].rule", never.rule) for number, never in enumerate(scenario.never))
    yield from ((f"answer[{number}].rule", answer.rule) for number, answer in enumerate(scenario.answer))


def _rules(procedure: Procedure) -> set[str]:
    """Every name under which a finding can be raised."""
    due = {f"{clock.id}-{moment.after_h:g}h" for clock in procedure.clock for moment in clock.due}
    return {*procedure.limits, *procedure.rules, *(order.id for order in procedure.order), *due}
