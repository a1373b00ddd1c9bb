"""A problem in a file somebody wrote: where and what, short enough for one line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pydantic import ValidationError

from log.basics.visible import visible

Problem = tuple[str, str]
"""Dotted path and what is wrong there."""

MESSAGE = 200
"""Characters of a file's own that a message repeats."""


def spelled_out(error: ValidationError) -> Iterator[Problem]:
    """Problems that pydantic found, in our words."""
    for problem in error.errors():
        message = problem["msg"].removeprefix("Value error, ")
        if problem["type"] == "extra_forbidden":
            message = "not a known key"
        yield shown((_dotted(problem["loc"]) or "(file)", message))


def shown(problem: Problem) -> Problem:
    """Text repeated from a file is short and cannot steer a terminal."""
    return visible(problem[0], MESSAGE), visible(problem[1], MESSAGE)


def _dotted(location: Iterable[int | str]) -> str:
    steps = tuple(location)
    if steps[:1] == ("slots",) and steps[2:3] in (("number",), ("choice",)):
        steps = steps[:2] + steps[3:]  # which of the two types of slot it is stands in no file
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in steps).removeprefix(".")
