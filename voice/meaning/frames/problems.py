"""Frames of a definition that name an idea, a slot or a kind that is not there."""

from __future__ import annotations

from collections.abc import Iterator
from typing import get_args

from log.definition.frames import Frame, Words
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.definition.slots import NumberSlot
from voice.english.guards import Guard


def frame_problems(procedure: Procedure) -> Iterator[Problem]:
    """All of them, each with the path to it."""
    speech = procedure.speech or Words()
    ideas, frames = _ideas(speech), {frame.id for frame in speech.frame}
    for frame in speech.frame:
        path = f"speech.frame.{frame.id}"
        for text in _missing(procedure, frame, ideas):
            yield path, text
        if frame.also is not None and frame.also not in frames:
            yield path, f'no frame is called "{frame.also}"'
        for field, group in frame.groups():
            if not isinstance(speech.says.get(group), dict):
                yield f"{path}.{field}", f'no group of words is called "{group}"'


def _missing(procedure: Procedure, frame: Frame, ideas: frozenset[str]) -> Iterator[str]:
    if procedure.kind_named(frame.kind) is None:
        yield f'no kind of entry is called "{frame.kind}"'
    for either in (*frame.needs, *frame.may, *(frame.against or ())):
        for idea in either.split("|"):
            if idea not in ideas:
                yield f'nothing says "{idea}"'
    for name in (*frame.numbers, *frame.units):
        if not isinstance(procedure.slots.get(name), NumberSlot):
            yield f'no number slot is called "{name}"'


def _ideas(speech: Words) -> frozenset[str]:
    """Every idea, group, member of a group and guard."""
    members = (f"{group}.{one}" for group, text in speech.says.items() if isinstance(text, dict) for one in text)
    return frozenset((*get_args(Guard), *speech.says, *members))
