"""Sends a segment to several engines at once, each a process of its own, and collects the answers; one that dies is
started again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from log.basics.errors import EngineError
from voice.engines.process import EngineProcess
from voice.meaning.matcher import Listening
from voice.sound.segment import Segment

Call = tuple[EngineProcess, str, tuple[object, ...]]
"""An engine, what it is to do, and with which arguments."""


@dataclass(frozen=True, slots=True)
class Early:
    """Calls that were sent before it was sure that the speech was over."""

    segment: Segment
    listening: Listening
    calls: list[Call]
    were_sent: list[bool]

    @property
    def of(self) -> tuple[int, bytes, Listening]:
        """The segment and the situation in which it was heard."""
        return self.segment.first_sample, self.segment.pcm, self.listening


def together(calls: Sequence[Call]) -> list[Any]:
    """All answers, the engines working at the same time; one that fails is started again and called once more.

    Raises EngineError when that fails too, but only after every other engine has answered: an answer left behind
    would be taken for the next segment's.
    """
    return collect(calls, [sent(call) for call in calls])


def collect(calls: Sequence[Call], were_sent: Sequence[bool]) -> list[Any]:
    """The answers to calls some of which could not be sent. Raises EngineError as `together`."""
    answers, failure = [], None
    restarted: set[EngineProcess] = set()
    for call, was_sent in zip(calls, were_sent, strict=True):
        try:
            answers.append(_answer(call, was_sent, restarted))
        except EngineError as error:
            failure = error
    if failure is not None:
        raise failure
    return answers


def sent(call: Call) -> bool:
    """Sends a call without waiting for its answer; whether that could be done."""
    engine, method, arguments = call
    try:
        engine.ask(method, *arguments)
    except EngineError:
        return False
    return True


def _answer(call: Call, was_sent: bool, restarted: set[EngineProcess]) -> Any:
    engine, method, arguments = call
    if was_sent and engine not in restarted:
        try:
            return engine.answer()
        except EngineError:
            pass
    if engine not in restarted:
        restarted.add(engine)
        engine.restart()
    engine.ask(method, *arguments)
    return engine.answer()
