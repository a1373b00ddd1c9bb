"""Frames of a definition that name an idea, a slot or a kind that is not there."""

from __future__ import annotations

from collections.abc import Iterator

from log.definition.slots import NumberSlot
from voice.meaning.frames.lexicon import GUARD_BIT
from voice.phrases.phrases import Phrases


def frame_problems(phrases: Phrases) -> Iterator[tuple[str, str]]:
    """Frames that name an idea, a slot or a kind that is not there."""
    procedure, speech = phrases.procedure, phrases.procedure.speech
    if speech is None:
        return
    known = set(GUARD_BIT) | set(speech.says)
    for idea, text in speech.says.items():
        known |= {f"{idea}.{member}" for member in text} if isinstance(text, dict) else set()
    for frame in speech.frame:
        path = f"speech.frame.{frame.id}"
        if procedure.kind_named(frame.kind) is None:
            yield f"{path}.kind", f'no kind of entry is called "{frame.kind}"'
        for ideas in (*frame.needs, *frame.may, *(frame.against or ())):
            for idea in ideas.split("|"):
                if idea not in known:
                    yield path, f'nothing says "{idea}"'
        if frame.also is not None and frame.also not in {other.id for other in speech.frame}:
            yield path, f'no frame is called "{frame.also}"'
        for name in (*frame.numbers, *frame.units):
            if not isinstance(procedure.slots.get(name), NumberSlot):
                yield path, f'no number slot is called "{name}"'
        for _, group in frame.groups():
            if not isinstance(speech.says.get(group), dict):
                yield path, f'no group of words is called "{group}"'
