"""Scenario files from disk: the shipped ones and a trainer's own, in TOML."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from pydantic import ValidationError

from log.basics.errors import InputError
from log.basics.visible import visible
from log.definition.problem import MESSAGE, Problem
from log.definition.procedure import Procedure
from log.definition.toml import is_there, parsed, text_of
from log.rehearsal.hangs_together import scenario_problems
from log.rehearsal.scenario import Scenario


def scenarios() -> tuple[str, ...]:
    """Names of the scenarios that come with the program."""
    folder = files("log") / "rehearsal" / "scenarios"
    return tuple(sorted(f.name.removesuffix(".toml") for f in folder.iterdir() if f.name.endswith(".toml")))


def read_scenario(name_or_path: str) -> Scenario:
    """The shipped scenario of this name, or the one in this file. Raises InputError."""
    if name_or_path in scenarios():
        text = (files("log") / "rehearsal" / "scenarios" / f"{name_or_path}.toml").read_text(encoding="utf-8")
    else:
        text = _read(name_or_path)
    try:
        return Scenario.model_validate(parsed(text))
    except ValidationError as error:
        first = error.errors()[0]
        where = "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in first["loc"]).lstrip(".")
        said = "not a known key" if first["type"] == "extra_forbidden" else first["msg"].removeprefix("Value error, ")
        raise _broken(name_or_path, (where or "(file)", said), len(error.errors())) from None
    except ValueError as error:
        raise _broken(name_or_path, ("not valid TOML", str(error)), 1) from None


def check_scenario(name_or_path: str, scenario: Scenario, procedure: Procedure) -> None:
    """Raises InputError if the scenario names what neither it nor the definition has."""
    found = tuple(scenario_problems(scenario, procedure))
    if found:
        raise _broken(name_or_path, found[0], len(found))


def _read(name_or_path: str) -> str:
    path = Path(name_or_path)
    if path.suffix != ".toml" and not is_there(path):
        raise InputError(
            f'there is no scenario named "{visible(name_or_path, MESSAGE)}"',
            f"take one of {', '.join(scenarios())}, or give the path of a .toml file",
        )
    return text_of(path, "scenario")


def _broken(path: str, problem: Problem, count: int) -> InputError:
    where, what = (visible(part, MESSAGE) for part in problem)
    more = f" (and {count - 1} more)" if count > 1 else ""
    return InputError(f"{path}: {where}: {what}{more}", "correct the scenario; the shipped ones show how")
