"""Definitions: which there are, what they say, whether a file is sound, and what can be said."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import click

from log.basics.errors import InputError
from log.basics.units import in_the_room
from log.basics.visible import visible
from log.definition.load import BrokenDefinition, in_force, is_override, overridden, read_override, shipped
from log.definition.override import apply
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.definition.slots import NumberSlot
from log.rules.definitions import examine, read_procedure
from tui.commands.options import local_option
from tui.commands.procedures.diff import diff
from tui.commands.procedures.page import page
from tui.commands.procedures.review import review
from tui.commands.procedures.schema import schema
from voice.meaning.frames.problems import frame_problems
from voice.meaning.matcher import one_entry
from voice.phrases.phrases import compile_phrases, readable, template_problems


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
    """Find everything that is wrong with a definition FILE (or a shipped name), or with a file of local changes, each
    with the path to it."""
    what = ""
    try:
        if is_override(file):
            name = overridden(Path(file))
            what = f"local changes to {name}, "
            problems = _unsayable(read_procedure(name), Path(file))
        else:
            procedure, problems = examine(file)
            if procedure is not None:
                problems += (*template_problems(procedure), *frame_problems(procedure))
            if procedure is not None and not problems:
                problems = _unsayable(procedure, local)
    except BrokenDefinition as error:
        if not error.problems:
            raise
        problems = error.problems
    for path, text in problems:
        click.echo(visible(f"{path}: {text}"))
    if problems:
        click.echo(f"{len(problems)} problem{'s' if len(problems) > 1 else ''} in {visible(file)}", err=True)
        sys.exit(3)
    click.echo(visible(f"{file}: {what}no problems"))


def _unsayable(procedure: Procedure, local: Path | None) -> tuple[Problem, ...]:
    """Steps of a sound definition, and of it with a site's changes, whose example is none."""
    found = tuple(unsayable_steps(procedure))
    if found or local is None:
        return found
    return tuple(unsayable_steps(in_force(procedure, read_override(local, procedure)).procedure))


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
    procedure = apply(procedure, override) if override else procedure
    click.echo("\n".join(map(visible, page(procedure))))


@command.command("phrases")
@click.argument("name")
def phrases(name: str) -> None:
    """List what can be said: words in [brackets] may be left out, (one|other) is a choice, CAPITALS are filled in."""
    procedure = read_procedure(name)
    compiled = compile_phrases(procedure)
    click.echo(
        f'With an open microphone say "{procedure.lead_word}" first. Numbers: "fifty", "five zero", '
        'or safest both: "fifty, five zero".\n'
        'Any phrase may be said as a sentence: "the airway is secured".\n'
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
    unit = in_the_room(slot.unit)
    return f"{slot.said[0]:g} to {slot.said[1]:g}{', halves' if slot.halves else ''}{units}" + (
        f" -> {unit}" if unit else ""
    )


for one in (diff, review, schema):
    command.add_command(one)
