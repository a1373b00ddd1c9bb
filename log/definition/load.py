"""Definition files from disk: the shipped ones, a hospital's own, and its local override.

Everything that is wrong with a file is found in one go and reported with the dotted path to it. What the rules read is
handed in, for they are built on definitions: log/rules/definitions.py does it for everybody.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from copy import deepcopy
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any, TypeVar

import platformdirs
from pydantic import BaseModel, ValidationError

from log.basics.errors import InputError
from log.basics.once import once
from log.basics.visible import visible
from log.definition.check import problems
from log.definition.extends import built_on, without
from log.definition.override import Override, apply, misfits
from log.definition.problem import MESSAGE, Problem, shown, spelled_out
from log.definition.procedure import Procedure
from log.definition.reads import Read
from log.definition.record_only import record_only, unset_limits
from log.definition.toml import is_there, parsed, text_of

M = TypeVar("M", bound=BaseModel)


class BrokenDefinition(InputError):
    """A definition or override that cannot be used; carries every problem."""

    def __init__(self, problem: str, remedy: str = "", problems: tuple[Problem, ...] = ()) -> None:
        super().__init__(problem, remedy)
        self.problems = problems


class NotSet(InputError):
    """No case can be kept by this definition: a site has to set limits of it first."""

    def __init__(self, name: str, limits: Iterable[str]) -> None:
        super().__init__(
            f"{name}: no value is shipped for {', '.join(limits)}, and your site has not set them",
            f"write each as [limits.NAME] with min or max into {config_folder() / name}.toml or give --local FILE;"
            f" what is wanted: tamponade procedures show {name}; --record-only keeps a record without any",
        )

    def __reduce__(self) -> tuple[type[InputError], tuple[str, str]]:
        """Its own arguments are not those of its base."""
        return InputError, (self.problem, self.remedy)


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


BASES = ("common", "around", "words")
"""Bases of shipped definitions; none of them is a definition by itself."""


def shipped() -> tuple[str, ...]:
    """Names of the definitions that come with the program."""
    folder = files("log.definition") / "shipped"
    return tuple(
        sorted(
            f.name.removesuffix(".toml")
            for f in folder.iterdir()
            if f.name.endswith(".toml") and f.name.removesuffix(".toml") not in BASES
        )
    )


def config_folder() -> Path:
    """Where the user's local overrides lie, one NAME.toml per definition."""
    return platformdirs.user_config_path("tamponade-log") / "local"


def load(name_or_path: str, local: Path | None, reads: Sequence[Read], only_record: bool = False) -> InForce:
    """The definition of this name (or in this file) with the local override, if there is one.

    `local`: an override file; without it NAME.toml in the user's config folder is used where it exists. `reads`: what
    the rules read. `only_record`: without any limit and override, for a tube whose limits nobody has set. Raises
    BrokenDefinition naming the file and every problem in it.
    """
    procedure = read_procedure(name_or_path, reads)
    path = local or config_folder() / f"{procedure.id}.toml"
    override = read_override(path, procedure) if local is not None or path.is_file() else None
    if not only_record:
        return in_force(procedure, override)
    return _frozen(record_only(procedure, apply(procedure, override) if override else procedure), None)


def in_force(procedure: Procedure, override: Override | None) -> InForce:
    """Applies an override that fits and freezes the result as text.

    Raises NotSet if the definition leaves limits to the site and the override sets not all of them.
    """
    applied = apply(procedure, override) if override else procedure
    if unset := unset_limits(applied):
        raise NotSet(procedure.id, unset)
    return _frozen(applied, override)


def _frozen(applied: Procedure, override: Override | None) -> InForce:
    return InForce(applied, override, _text(applied))


@once
def _text(procedure: Procedure) -> str:
    return json.dumps(procedure.model_dump(mode="json"), ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def read_procedure(name_or_path: str, reads: Sequence[Read]) -> Procedure:
    """One definition, without override. Raises BrokenDefinition with every problem."""
    return _shipped_one(name_or_path, tuple(reads)) if name_or_path in shipped() else _sound(name_or_path, reads)


def _sound(name_or_path: str, reads: Sequence[Read]) -> Procedure:
    procedure, found = examine(name_or_path, reads)
    if found or procedure is None:
        raise _broken(name_or_path, found)
    return procedure


_shipped_one = cache(_sound)
"""A shipped definition is read and checked once."""


def examine(name_or_path: str, reads: Sequence[Read]) -> tuple[Procedure | None, tuple[Problem, ...]]:
    """A definition as far as it can be read, with all that is wrong with it.

    What cannot be used is left out and the rest is checked on, so that one slip does not hide the next. There is no
    definition if a part is broken that cannot be left out.
    """
    path, raw = _source(name_or_path)
    merged = _with_base(raw, path, reads)
    found: list[Problem] = []
    left_out: set[str] = set()
    while True:
        try:
            procedure = Procedure.model_validate(merged)
        except ValidationError as error:
            found += spelled_out(error)
            merged = deepcopy(merged)
            names = _leave_out(merged, error)
            if names <= left_out:  # nothing more can be left out
                return None, tuple(dict.fromkeys(found))
            left_out |= names
            continue
        found += (shown(problem) for problem in problems(procedure, reads) if not _follows_from(problem, left_out))
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
    """The value at a place; the tag that pydantic adds for the type of a slot is no step."""
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
    problems = list(misfits(override, procedure))
    if not problems:
        try:
            apply(procedure, override)
        except ValidationError as error:
            problems = list(spelled_out(error))
    if problems:
        raise _broken(str(path), tuple(problems))
    return override


def is_override(name_or_path: str) -> bool:
    """Whether this is a file of local changes and no definition: it names a definition, and neither is nor extends
    one."""
    _, raw = _source(name_or_path)
    return "procedure" in raw and not {"id", "extends"} & raw.keys()


def overridden(path: Path) -> str:
    """The definition that an override says it is for."""
    name = _parse_toml(str(path), _read(path)).get("procedure")
    if not isinstance(name, str) or not name:
        raise BrokenDefinition(
            f"{path}: procedure: does not say which definition it changes", 'write procedure = "NAME"'
        )
    return name


def _source(name_or_path: str) -> tuple[str, dict[str, Any]]:
    if name_or_path in shipped():
        return name_or_path, _shipped(name_or_path)
    path = Path(name_or_path)
    if path.suffix != ".toml" and not is_there(path):
        raise BrokenDefinition(
            f'there is no definition named "{name_or_path}"',
            f"take one of {', '.join(shipped())}, or give the path of a .toml file",
        )
    return str(path), _parse_toml(str(path), _read(path))


@cache
def _shipped(name: str) -> dict[str, Any]:
    """A shipped file, parsed once: the words alone take as long as all the rest of a definition. Nobody changes it."""
    return _parse_toml(name, (files("log.definition") / "shipped" / f"{name}.toml").read_text(encoding="utf-8"))


def _with_base(raw: dict[str, Any], path: str, reads: Sequence[Read]) -> dict[str, Any]:
    base, left = raw.get("extends"), raw.get("without", [])
    own = {key: value for key, value in raw.items() if key not in ("extends", "without")}
    if base is None:
        if left:
            raise _broken(path, (("without", "nothing is taken over: leave it out, or say what is extended"),))
        return own
    if base not in (*shipped(), *BASES):
        raise _broken(path, (("extends", f'there is no shipped definition named "{base}"'),))
    if not isinstance(left, list) or not all(isinstance(one, str) for one in left):
        raise _broken(path, (("without", 'has to be a list of paths, as ["limits.gastric_volume.max"]'),))
    inherited, lost = without(_with_base(_shipped(base), base, reads), left)
    if lost:
        raise _broken(path, tuple(("without", f'"{one}" is nothing that {base} has') for one in lost))
    return built_on(inherited, own, reads)


def _read(path: Path) -> str:
    try:
        return text_of(path, "definition")
    except InputError as error:
        raise BrokenDefinition(error.problem, error.remedy) from None


def _parse_toml(path: str, text: str) -> dict[str, Any]:
    try:
        return parsed(text)
    except ValueError as error:
        said = visible(str(error), MESSAGE)
        raise BrokenDefinition(
            f"{path}: not valid TOML: {said}", "mend that line", problems=(("(file)", said),)
        ) from None


def _validated(model: type[M], raw: dict[str, Any], path: str) -> M:
    try:
        return model.model_validate(raw)
    except ValidationError as error:
        raise _broken(path, tuple(spelled_out(error))) from None


def _broken(path: str, problems: tuple[Problem, ...]) -> BrokenDefinition:
    problems = tuple(map(shown, problems))
    first = f"{problems[0][0]}: {problems[0][1]}"
    more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
    return BrokenDefinition(f"{path}: {first}{more}", f"see all with: tamponade procedures check {path}", problems)
