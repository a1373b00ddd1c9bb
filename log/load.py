"""Definition files from disk: the shipped ones, a hospital's own, and its local override.

Everything that is wrong with a file is found in one go and told with the dotted path to it.
"""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

import platformdirs
from pydantic import BaseModel, ValidationError

from log.crosscheck import Problem, problems
from log.errors import InputError
from log.events import CaseOpened, Fact
from log.override import Override, apply
from log.procedure import Procedure

M = TypeVar("M", bound=BaseModel)


class BrokenDefinition(InputError):
    """A definition or override that cannot be used; carries every problem."""

    def __init__(self, problem: str, remedy: str = "", problems: tuple[Problem, ...] = ()) -> None:
        super().__init__(problem, remedy)
        self.problems = problems


@dataclass(frozen=True, slots=True)
class InForce:
    """The definition a case is kept by: shipped or local file with the override applied."""

    procedure: Procedure
    override: Override | None
    text: str
    """Canonical JSON of what is in force; kept with the case so that replay shows what the room saw."""

    @property
    def sha256(self) -> str:
        """Fingerprint of `text`."""
        return hashlib.sha256(self.text.encode()).hexdigest()


def shipped() -> tuple[str, ...]:
    """Names of the definitions that come with the program."""
    folder = files("log") / "procedures"
    return tuple(
        sorted(
            f.name.removesuffix(".toml")
            for f in folder.iterdir()
            if f.name.endswith(".toml") and f.name != "common.toml"
        )
    )


def config_folder() -> Path:
    """Where the user's local overrides lie, one NAME.toml per definition."""
    return platformdirs.user_config_path("tamponade-log") / "local"


def load(name_or_path: str, local: Path | None = None) -> InForce:
    """The definition of this name (or in this file) with the local override, if there is one.

    `local`: an override file; without it NAME.toml in the user's config folder is used where it exists.
    Raises BrokenDefinition naming the file and every problem in it.
    """
    procedure = read_procedure(name_or_path)
    path = local or config_folder() / f"{procedure.id}.toml"
    if local is None and not path.is_file():
        return in_force(procedure, None)
    override = read_override(path, procedure)
    return in_force(procedure, override)


def in_force(procedure: Procedure, override: Override | None) -> InForce:
    """Applies an override that fits and freezes the result as text."""
    applied = apply(procedure, override) if override else procedure
    text = json.dumps(applied.model_dump(mode="json"), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return InForce(applied, override, text)


def of_case(facts: Iterable[Fact]) -> Procedure:
    """The definition a case was kept by, from the copy that lies in the case itself, so that files edited since
    then change nothing. Raises InputError if the case has none that this version can read."""
    opened = next((fact for fact in facts if isinstance(fact, CaseOpened)), None)
    if opened is None:
        raise InputError("the case has no opening, so its definition is not known", "take its backup")
    try:
        return Procedure.model_validate_json(opened.definition)
    except ValidationError as error:
        where, what = next(_spelled_out(error))
        raise InputError(
            f"case {opened.case}: its definition cannot be read ({where}: {what})",
            "open it with the version that made it",
        ) from None


def read_procedure(name_or_path: str) -> Procedure:
    """One definition, without override. Raises BrokenDefinition with every problem."""
    procedure, found = examine(name_or_path)
    if found or procedure is None:
        raise _broken(name_or_path, found)
    return procedure


def examine(name_or_path: str) -> tuple[Procedure | None, tuple[Problem, ...]]:
    """A definition as far as it can be read, with all that is wrong with it.

    What cannot be used is left out and the rest is checked on, so that one slip does not hide the next. There is no
    definition if a part is broken that cannot be left out.
    """
    path, raw = _source(name_or_path)
    merged = _with_base(raw, path)
    found: list[Problem] = []
    left_out: set[str] = set()
    while True:
        try:
            procedure = Procedure.model_validate(merged)
        except ValidationError as error:
            found += _spelled_out(error)
            names = _leave_out(merged, error)
            if names <= left_out:  # nothing more can be left out
                return None, tuple(dict.fromkeys(found))
            left_out |= names
            continue
        found += (problem for problem in problems(procedure) if not _follows_from(problem, left_out))
        return procedure, tuple(dict.fromkeys(found))


ITEMS_BY_NAME = ("slots", "limits", "rules", "parts", "sources", "spellings", "pronunciations")
"""Tables from which one item can be left out without the others changing their meaning."""


def _leave_out(merged: dict[str, Any], error: ValidationError) -> set[str]:
    """Takes unknown keys and broken named items out of `merged`; gives their names, none if something has to stay."""
    names: set[str] = set()
    for problem in error.errors():
        where = problem["loc"]
        if problem["type"] == "extra_forbidden":
            holder = _at(merged, where[:-1])
            if isinstance(holder, dict) and holder.pop(where[-1], None) is not None:
                names.add(str(where[-1]))
        elif len(where) > 1 and where[0] in ITEMS_BY_NAME and isinstance(merged[str(where[0])], dict):
            merged[str(where[0])] = {k: v for k, v in merged[str(where[0])].items() if k != where[1]}
            names.add(str(where[1]))
        else:
            return set()
    return names


def _at(merged: dict[str, Any], where: tuple[int | str, ...]) -> Any:
    """What stands at a place; the tag that pydantic adds for the type of a slot is no step."""
    found: Any = merged
    for step in where:
        there = isinstance(step, int) if isinstance(found, list) else isinstance(found, dict) and step in found
        if there:
            found = found[step]
    return found


def _follows_from(problem: Problem, left_out: set[str]) -> bool:
    path, text = problem
    return path.split(".")[-1] in left_out or any(f'"{name}"' in text for name in left_out)


def read_override(path: Path, procedure: Procedure) -> Override:
    """A local override that fits this definition."""
    override = _validated(Override, _parse_toml(str(path), _read(path)), str(path))
    problems = list(_misfits(override, procedure))
    if not problems:
        try:
            apply(procedure, override)
        except ValidationError as error:
            problems = list(_spelled_out(error))
    if problems:
        raise _broken(str(path), tuple(problems))
    return override


def _misfits(override: Override, procedure: Procedure) -> Iterator[Problem]:
    if override.procedure != procedure.id:
        yield "procedure", f'is for "{override.procedure}", but the definition in use is "{procedure.id}"'
    for name, change in override.limits.items():
        if name not in procedure.limits:
            yield f"limits.{name}", f"not a limit of {procedure.id}; there are {', '.join(procedure.limits)}"
            continue
        shipped_limit = procedure.limits[name]
        low = change.min if change.min is not None else shipped_limit.min
        high = change.max if change.max is not None else shipped_limit.max
        if low is not None and high is not None and low > high:
            yield f"limits.{name}", f"min {low:g} is above max {high:g}"


def _source(name_or_path: str) -> tuple[str, dict[str, Any]]:
    if name_or_path in shipped():
        text = (files("log") / "procedures" / f"{name_or_path}.toml").read_text(encoding="utf-8")
        return name_or_path, _parse_toml(name_or_path, text)
    path = Path(name_or_path)
    if path.suffix != ".toml" and not path.exists():
        raise BrokenDefinition(
            f'no definition is called "{name_or_path}"',
            f"take one of {', '.join(shipped())}, or give the path of a .toml file",
        )
    return str(path), _parse_toml(str(path), _read(path))


def _with_base(raw: dict[str, Any], path: str) -> dict[str, Any]:
    base = raw.pop("extends", None)
    if base is None:
        return raw
    if base not in (*shipped(), "common"):
        raise _broken(path, (("extends", f'no shipped definition is called "{base}"'),))
    text = (files("log") / "procedures" / f"{base}.toml").read_text(encoding="utf-8")
    return _merge(_with_base(_parse_toml(base, text), base), raw)


def _merge(base: dict[str, Any], own: dict[str, Any]) -> dict[str, Any]:
    """Tables are merged key by key; arrays of tables with an id, item by item; everything else is replaced."""
    merged = dict(base)
    for key, value in own.items():
        old = merged.get(key)
        if isinstance(old, dict) and isinstance(value, dict) and key not in ("values",):
            merged[key] = _merge(old, value)
        elif old is not None and _has_ids(old) and _has_ids(value):
            ids = [item["id"] for item in old]
            merged[key] = [new for item in old for new in _with_id(value, item["id"]) or [item]]
            merged[key] += [item for item in value if item["id"] not in ids]
        else:
            merged[key] = value
    return merged


def _with_id(items: list[dict[str, Any]], name: object) -> list[dict[str, Any]]:
    return [item for item in items if item["id"] == name]


def _has_ids(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(i, dict) and "id" in i for i in value)


def _read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise BrokenDefinition(f"{path}: there is no such file", "check the path") from None
    except (OSError, UnicodeDecodeError) as error:
        raise BrokenDefinition(f"{path}: cannot be read ({error})", "give a text file in UTF-8") from None


def _parse_toml(path: str, text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise BrokenDefinition(
            f"{path}: not valid TOML: {error}", "mend that line", problems=(("(file)", str(error)),)
        ) from None


def _validated(model: type[M], raw: dict[str, Any], path: str) -> M:
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        raise _broken(path, tuple(_spelled_out(error))) from None


def _spelled_out(error: ValidationError) -> Iterator[Problem]:
    for problem in error.errors():
        message = problem["msg"].removeprefix("Value error, ")
        if problem["type"] == "extra_forbidden":
            message = "not a known key"
        yield _dotted(problem["loc"]) or "(file)", message


def _dotted(location: Iterable[int | str]) -> str:
    steps = tuple(location)
    if steps[:1] == ("slots",) and steps[2:3] in (("number",), ("choice",)):
        steps = steps[:2] + steps[3:]  # which of the two types of slot it is stands in no file
    return "".join(f"[{step}]" if isinstance(step, int) else f".{step}" for step in steps).removeprefix(".")


def _broken(path: str, problems: tuple[Problem, ...]) -> BrokenDefinition:
    first = f"{problems[0][0]}: {problems[0][1]}"
    more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
    return BrokenDefinition(f"{path}: {first}{more}", f"see all with: tamponade procedures check {path}", problems)
