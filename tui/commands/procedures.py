"""Definitions: which there are, what they say, whether a file is sound, and what can be said."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import click

from log.errors import InputError
from log.load import BrokenDefinition, examine, in_force, read_override, read_procedure, shipped
from log.procedure import Backed, Kind, NumberSlot, Procedure
from log.visible import visible
from tui.options import local_option
from voice.matcher import one_entry
from voice.phrases import UNIT_IN_THE_ROOM, compile_phrases, readable, template_problems


@click.group("procedures", short_help="Show and check definitions and their phrases.", invoke_without_command=True)
@click.pass_context
def command(context: click.Context) -> None:
    """List the shipped definitions, or show, check and explain one."""
    if context.invoked_subcommand is None:
        for name in shipped():
            procedure = read_procedure(name)
            click.echo(f"{name}  {procedure.title}, version {procedure.version}")


@command.command("check")
@click.argument("file")
@local_option
def check(file: str, local: Path | None) -> None:
    """Find everything that is wrong with a definition FILE (or a shipped name), each with the path to it."""
    try:
        procedure, problems = examine(file)
        if procedure is not None:
            problems += tuple(template_problems(procedure))
        if procedure is not None and not problems:
            problems += tuple(unsayable_steps(in_force(procedure, None).procedure))
        if procedure is not None and not problems and local is not None:
            override = read_override(local, procedure)
            problems = tuple(unsayable_steps(in_force(procedure, override).procedure))
    except BrokenDefinition as error:
        if not error.problems:
            raise
        problems = error.problems
    for path, text in problems:
        click.echo(visible(f"{path}: {text}"))
    if problems:
        click.echo(f"{len(problems)} problem{'s' if len(problems) > 1 else ''} in {file}", err=True)
        sys.exit(3)
    click.echo(f"{file}: no problems")


def unsayable_steps(procedure: Procedure) -> Iterator[tuple[str, str]]:
    """Steps whose example cannot be said, or is not what they wait for."""
    phrases = compile_phrases(procedure)
    for number, step in enumerate(procedure.milestone):
        try:
            entry = one_entry(phrases, step.say)
        except InputError as error:
            yield f"milestone[{number}].say", str(error)
            continue
        if not {entry.kind, as_air(entry.kind)} & {pattern.kind for pattern in step.done}:
            yield f"milestone[{number}].say", f'"{step.say}" is no {" or ".join(map(str, step.done))}'


def as_air(kind: str) -> str:
    """A volume that is now in the balloon may be more air."""
    return "volume_in" if kind == "volume_total" else kind


@command.command("show")
@click.argument("name")
@local_option
def show(name: str, local: Path | None) -> None:
    """Print a definition as a page: tube, limits, rules, order, clocks, each with its source."""
    procedure = read_procedure(name)
    override = read_override(local, procedure) if local else None
    procedure = in_force(procedure, override).procedure
    click.echo("\n".join(map(visible, _page(procedure))))


@command.command("phrases")
@click.argument("name")
def phrases(name: str) -> None:
    """List what can be said: words in [brackets] may be left out, (one|other) is a choice, CAPITALS are filled in."""
    procedure = read_procedure(name)
    compiled = compile_phrases(procedure)
    click.echo(
        f'With an open microphone say "{procedure.lead_word}" first. Numbers: "fifty", "five zero", '
        'or safest both: "fifty, five zero".\n'
    )
    for kind in procedure.kind:
        click.echo(f"{kind.title}{' (command)' if kind.role == 'command' else ''}")
        for template in compiled.templates:
            if template.kind is kind:
                click.echo(f"    {_spelled(readable(template), procedure)}")
    click.echo("\nwhere")
    for slot_name in procedure.slots:
        click.echo(f"    {slot_name.upper():<14} {_slot(procedure, slot_name)}")


def _spelled(text: str, procedure: Procedure) -> str:
    for name in procedure.slots:
        text = text.replace(f"{{{name}}}", name.upper())
    for name, part in procedure.parts.items():
        text = text.replace(f"<{name}>", part)
    return text


def _slot(procedure: Procedure, name: str) -> str:
    slot = procedure.slots[name]
    if not isinstance(slot, NumberSlot):
        return " | ".join(slot.values.values())
    units = f" [{_spelled(slot.units, procedure).strip('()')}]" if slot.units else ""
    unit = UNIT_IN_THE_ROOM[slot.unit or "1"]
    return f"{slot.said[0]:g} to {slot.said[1]:g}{', halves' if slot.halves else ''}{units}" + (
        f" -> {unit}" if unit else ""
    )


def _page(procedure: Procedure) -> list[str]:
    lines = [f"{procedure.title} ({procedure.id}, version {procedure.version})", ""]
    lines += [f"! {caution}" for caution in procedure.cautions]
    lines += [
        "",
        f"Tube: {procedure.tube.lumens} lumens; balloons: {', '.join(procedure.tube.balloons)}. {procedure.tube.note}",
    ]
    lines += ["", "Limits (a limit never refuses an entry; it puts a finding beside it)"]
    for name, limit in procedure.limits.items():
        lines += _item(procedure, name, limit, f"{limit.about}: {limit.bounds}", limit.advice)
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
    lines += ["", "Steps, of which the room is told the next"]
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
        told = f"{down.step_mmhg:g} mmHg every {down.every_h:g} h to {down.down_to_mmhg:g} mmHg, from {down.controlled}"
        lines += [f"  step-down: {told}", f"               {procedure.cite(down)}"]
    deflation = plan.deflation
    told = (
        f"every {deflation.every_h:g} h for {deflation.for_min:g} min" if deflation else plan.deflation_not_set.message
    )
    lines += [f"  deflation: {told}", f"               {procedure.cite(deflation or plan.deflation_not_set)}"]
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
