"""Definitions that the rules can work with: each is held to what the rules read before anybody uses it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from log.definition import load as files
from log.definition.problem import Problem
from log.definition.procedure import Procedure
from log.facts import definition_of
from log.facts.events import Fact
from log.rules import READS


def load(name_or_path: str, local: Path | None = None, only_record: bool = False) -> files.InForce:
    """The definition of this name (or in this file) with the local override, as log/definition/load.py has it."""
    return files.load(name_or_path, local, READS, only_record)


def read_procedure(name_or_path: str) -> Procedure:
    """One definition, without override. Raises BrokenDefinition with every problem."""
    return files.read_procedure(name_or_path, READS)


def examine(name_or_path: str) -> tuple[Procedure | None, tuple[Problem, ...]]:
    """A definition as far as it can be read, with all that is wrong with it."""
    return files.examine(name_or_path, READS)


def of_case(facts: Iterable[Fact]) -> Procedure:
    """The definition a case was kept by. Raises InputError if the case has none that this version can use."""
    return definition_of.of_case(facts, READS)
