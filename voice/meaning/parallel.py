"""Asks several engines at once, each a process of its own, and waits for all; one that dies is started again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from log.basics.errors import EngineError
from voice.engines.process import EngineProcess
from voice.meaning.matcher import Listening
from voice.sound.segment import Segment

Call = tuple[EngineProcess, str, tuple[object, ...]]
"""Whom to ask, what, and with which arguments."""


@dataclass(frozen=True, slots=True)
class Early:
    """Questions that were sent before it was sure that the speech was over."""

    segment: Segment
    listening: Listening
    calls: list[Call]
    sent: list[bool]

    @property
    def of(self) -> tuple[int, bytes, Listening]:
        """What was heard, and how."""
        return self.segment.first_sample, self.segment.pcm, self.listening


def together(calls: Sequence[Call]) -> list[Any]:
    """All answers, the engines working at the same time; one that fails is started again and asked once more.

    Raises EngineError when that fails too, but only after every other engine has answered: an answer left behind
    would be taken for the next segment's.
    """
    return answers_to(calls, [asked(call) for call in calls])


def answers_to(calls: Sequence[Call], were_asked: Sequence[bool]) -> list[Any]:
    """Of calls some of which could not be asked. Raises EngineError as `together`."""
    answers, failure = [], None
    restarted: set[EngineProcess] = set()
    for call, sent in zip(calls, were_asked, strict=True):
        try:
            answers.append(_answered(call, sent, restarted))
        except EngineError as error:
            failure = error
    if failure is not None:
        raise failure
    return answers


def asked(call: Call) -> bool:
    """Asks, without waiting; whether that could be done."""
    engine, method, arguments = call
    try:
        engine.ask(method, *arguments)
    except EngineError:
        return False
    return True


def _answered(call: Call, sent: bool, restarted: set[EngineProcess]) -> Any:
    engine, method, arguments = call
    if sent and engine not in restarted:
        try:
            return engine.answer()
        except EngineError:
            pass
    if engine not in restarted:
        restarted.add(engine)
        engine.restart()
    engine.ask(method, *arguments)
    return engine.answer()
