"""The general recogniser that a site brings: a folder, or an installed package that holds one. It is used only if its
model is one of those in `models/manifest.toml`. Nothing is downloaded.
"""

from __future__ import annotations

import hashlib
import importlib.resources
import importlib.util
import os
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from log.basics.errors import EngineError, InputError
from voice.engines.models import models_dir

VARIABLE = "TAMPONADE_WORDS"
"""Environment variable: the folder of the general recogniser, or the name of a package that holds it."""

NET = "model.bin"
VOCABULARIES = ("vocabulary.txt", "vocabulary.json")

DEEPEST = 3
"""Folders of a package that are looked into."""


@dataclass(frozen=True, slots=True)
class WordsModel:
    """A general recogniser that is known."""

    name: str
    path: Path


def words_model() -> WordsModel | None:
    """The one that the environment names, else the first in the folder of the models; None if there is none, or the
    extra `words` is not installed. Raises InputError for a named one that is not there or not known."""
    if importlib.util.find_spec("ctranslate2") is None:
        return None
    named = os.environ.get(VARIABLE)
    if named:
        return checked(_named(named))
    folder = models_dir()
    found = sorted(place.parent for place in folder.glob(f"*/{NET}")) if folder.is_dir() else []
    return checked(found[0]) if found else None


def checked(folder: Path) -> WordsModel:
    """The model of a folder by its fingerprint. Raises InputError for one that the manifest does not know."""
    if not any((folder / name).is_file() for name in VOCABULARIES) or not (folder / NET).is_file():
        raise InputError(f"{folder}: no general recogniser", f"it holds {NET} and {' or '.join(VOCABULARIES)}")
    sha256 = _sha256(folder / NET)
    name = next((name for name, known in manifest().items() if known == sha256), None)
    if name is None:
        raise InputError(
            f"{folder / NET}: SHA-256 {sha256} is of no known model", f"use one of these: {', '.join(manifest())}"
        )
    return WordsModel(name, folder)


@cache
def manifest() -> Mapping[str, str]:
    """Name -> SHA-256 of each model that may be used."""
    text = (importlib.resources.files("models") / "manifest.toml").read_text(encoding="utf-8")
    return {name: str(entry["sha256"]) for name, entry in tomllib.loads(text).items()}


def _named(named: str) -> Path:
    folder = Path(named).expanduser()
    if folder.is_dir():
        return folder
    found = next(_in_package(named), None) if named.replace("_", "").isalnum() else None
    if found is None:
        raise InputError(f"{VARIABLE}: {named} is no folder and no package with {NET}", "name one, or unset it")
    return found


def _in_package(name: str) -> Iterator[Path]:
    """The folders of a package, which is not run, that hold a model."""
    spec = importlib.util.find_spec(name)
    for place in (spec.submodule_search_locations or ()) if spec is not None else ():
        for depth in range(DEEPEST):
            yield from (net.parent for net in Path(place).glob(f"{'*/' * depth}{NET}"))


def _sha256(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise EngineError(f"{path} cannot be read ({error.strerror})", "check who may read it") from None
