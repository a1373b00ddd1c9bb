"""A definition as a page to read: what a site checks before it lets anybody use it."""

from __future__ import annotations

from log.basics.patterns import Backed
from log.definition.kinds import Kind
from log.definition.procedure import Procedure


def page(procedure: Procedure) -> list[str]:
    """The lines of the page: cautions, tube, limits, order, rules, clocks, watch, steps, kinds of entry."""
    lines = [f"{procedure.title} ({procedure.id}, version {procedure.version})", ""]
    lines += [f"! {caution}" for caution in procedure.cautions]
    lines += [
        "",
        f"Tube: {procedure.tube.lumens} lumens; balloons: {', '.join(procedure.tube.balloons)}. {procedure.tube.note}",
    ]
    lines += ["", "Limits (a limit never refuses an entry; it puts a finding beside it)"]
    for name, limit in procedure.limits.items():
        lines += _item(procedure, name, limit, f"{limit.about}: {limit.bounds}", f"holds: {limit.of}", limit.advice)
        if (wanted := limit.site_sets) is not None:
            line = f"to set: {' and '.join(wanted.wants)}. {wanted.message} {procedure.cite(wanted)}"
            lines.append(f"               {line}")
    lines += ["", "Order"]
    for order in procedure.order:
        lines += _item(procedure, order.id, order, f"{order.first} before {order.then}", order.message)
    lines += ["", "Rules"]
    for name, rule in procedure.rules.items():
        lines += _item(procedure, name, rule, rule.message)
    lines += ["", "Clocks"]
    for clock in procedure.clock:
        lines.append(f"  {clock.id}: {clock.title}, from {clock.starts} to {' or '.join(map(str, clock.stops))}")
        for due in clock.due:
            lines += _item(procedure, f"{due.after_h:g} h", due, due.message)
    lines += _watch(procedure) if procedure.watch is not None else []
    lines += ["", "Steps; the room is shown the next"]
    for step in procedure.milestone:
        after = f", after {' and '.join(step.after)}" if step.after else ""
        lines += [f"  {step.id}: {step.title}{after}", f'               say "{step.say}"']
        lines.append(f"               {procedure.cite(step)}")
    return [*lines, "", "Entries", *(f"  {_kind(kind)}" for kind in procedure.kind)]


def _watch(procedure: Procedure) -> list[str]:
    plan = procedure.watch
    assert plan is not None
    lines = ["", "The watch over a placed tube"]
    for check in plan.check:
        done = f"done with {' or '.join(map(str, check.done))}" if check.done else "the log cannot know"
        lines.append(f"  {check.id}: {check.title}, every {check.every_h:g} h from {check.starts}; {done}")
        lines.append(f"               {procedure.cite(check)}")
    if plan.step_down is not None:
        down = plan.step_down
        line = f"{down.step_mmhg:g} mmHg every {down.every_h:g} h to {down.down_to_mmhg:g} mmHg, from {down.controlled}"
        lines += [f"  step-down: {line}", f"               {procedure.cite(down)}"]
    deflation = plan.deflation
    line = (
        f"every {deflation.every_h:g} h for {deflation.for_min:g} min" if deflation else plan.deflation_not_set.message
    )
    lines += [f"  deflation: {line}", f"               {procedure.cite(deflation or plan.deflation_not_set)}"]
    trend = f"{plan.trend.fewest} readings over {plan.trend.shortest_h:g} h, interval of {plan.trend.confidence:.3g}"
    lines += [f"  leak: from {trend} on", f"               {procedure.cite(plan.trend)}"]
    late = f"overdue: {plan.late.after_min:g} min after it was due"
    return [*lines, f"  {late}", f"               {procedure.cite(plan.late)}"]


def _item(procedure: Procedure, name: str, backed: Backed, *texts: str) -> list[str]:
    return [
        f"  {backed.level.upper():<12} {name}",
        *(f"               {text}" for text in (*texts, procedure.cite(backed))),
    ]


def _kind(kind: Kind) -> str:
    return f"{kind.title} ({kind.id})" + (": acts on the record" if kind.role == "command" else "")
