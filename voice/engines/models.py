"""Speech models on this machine: which are there, which one is used, and how another is added.

A model is a folder. It appears under its name only when it is complete, so an interrupted copy is never listened with.
"""

from __future__ import annotations

import importlib.resources
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import platformdirs

from log.basics.errors import EngineError, InputError, StoreError
from log.store.files import private_folder
from voice.engines.unpack import reason, unpack, verify

DIRECTORY_VARIABLE = "TAMPONADE_MODELS"
"""Environment variable: the folder that holds the models."""
MODEL_VARIABLE = "TAMPONADE_MODEL"
"""Environment variable: the name of the model to use."""

SHIPPED = "room-en"
"""Name of the model that comes with the program."""

PEOPLE = "people-en"
"""Name of the model of the other make, which comes with it (`voice.engines.people`)."""

_NAME = r"^[A-Za-z0-9]([A-Za-z0-9._-]{0,98}[A-Za-z0-9_-])?$"
_DIGEST = r"^[0-9a-f]{64}$"


@dataclass(frozen=True, slots=True)
class InstalledModel:
    """A complete model folder on this machine."""

    name: str
    path: Path
    runtime_grammar: bool
    """Whether the engine takes a list of expected phrases; without it everything is heard as free dictation."""


def models_dir(override: Path | None = None) -> Path:
    """The folder that holds the models; it need not exist yet."""
    named = os.environ.get(DIRECTORY_VARIABLE)
    if override is not None or named:
        return override or Path(named or "").expanduser()
    return platformdirs.user_data_path("tamponade-log") / "models"


def is_model(folder: Path) -> bool:
    """Whether the folder has the layout the engine loads, today's or the older flat one."""
    today = (folder / "am" / "final.mdl").is_file() and (folder / "conf").is_dir()
    return today or ((folder / "final.mdl").is_file() and (folder / "mfcc.conf").is_file())


def installed(directory: Path) -> tuple[InstalledModel, ...]:
    """The complete models in the folder, by name."""
    try:
        folders = sorted(directory.iterdir()) if directory.is_dir() else []
        return tuple(_describe(folder) for folder in folders if re.fullmatch(_NAME, folder.name) and is_model(folder))
    except OSError as error:
        raise EngineError(f"{directory} cannot be read ({error.strerror})", "check who may read the folder") from error


def shipped_model() -> InstalledModel | None:
    """The model that came with the program."""
    folder = Path(str(importlib.resources.files("models") / SHIPPED))
    return _describe(folder) if is_model(folder) else None


def people_model() -> Path:
    """The folder of people-en, which comes with the program."""
    return Path(str(importlib.resources.files("models") / PEOPLE))


def usable(directory: Path) -> tuple[InstalledModel, ...]:
    """The model that came with the program, and those in the folder."""
    ours = shipped_model()
    return (*((ours,) if ours else ()), *installed(directory))


def default_model(directory: Path) -> InstalledModel | None:
    """The model to use: the one the environment names, else the one that came with the program, else the first in
    the folder that takes a grammar.
    """
    present = usable(directory)
    wanted = os.environ.get(MODEL_VARIABLE)
    if not wanted:
        return next((model for model in present if model.runtime_grammar), None)
    named = next((model for model in present if model.name == wanted), None)
    if named is None:
        there = ", ".join(model.name for model in present) or "none"
        raise EngineError(f"no model {wanted!r} in {directory} (there: {there})", f"add it, or unset {MODEL_VARIABLE}")
    return named


def _describe(folder: Path) -> InstalledModel:
    graph = folder / "graph" if (folder / "am" / "final.mdl").is_file() else folder
    # A ready-made HCLG.fst is preferred by the engine, which then ignores any grammar it is given.
    grammar = (graph / "HCLr.fst").is_file() and not (graph / "HCLG.fst").exists()
    return InstalledModel(folder.name, folder, grammar)


def add(source: str, *, directory: Path, sha256: str | None = None, name: str | None = None) -> InstalledModel:
    """Adds a model from a folder or a zip file on this machine. Raises InputError, or StoreError if the disk fails.

    `sha256`: what the zip file has to hash to. `name`: the model's name, else that of the folder or file.
    """
    digest, local = _digest(sha256), _local(source)
    if local is None:
        raise InputError(
            f"{source!r} is neither a folder nor a zip file", "give the path of one: nothing is downloaded"
        )
    if local.is_dir():
        return _add_folder(local, digest, _target(directory, name, local.resolve().name))
    return _add_zip(local, digest, _target(directory, name, _stem(local.name)))


def _local(source: str) -> Path | None:
    """The folder or file that is meant, if there is one."""
    try:
        place = Path(source).expanduser()
        return place if place.is_dir() or place.is_file() else None
    except (OSError, RuntimeError):  # too long for a name; the home of somebody who is not there
        return None


def _digest(sha256: str | None) -> str | None:
    if sha256 is None:
        return None
    if not re.fullmatch(_DIGEST, sha256.strip().lower()):
        raise InputError(f"{sha256!r} is not a SHA-256", "give the 64 hexadecimal digits")
    return sha256.strip().lower()


def _stem(path: str) -> str:
    return re.sub(r"\.zip$", "", path, flags=re.IGNORECASE)


def _target(directory: Path, name: str | None, suggested: str) -> Path:
    """Where the model will stand; a name somebody chose is taken as it is or not at all."""
    chosen = name if name is not None else re.sub(r"[^A-Za-z0-9._-]+", "-", suggested)[:100].strip("._-")
    if not re.fullmatch(_NAME, chosen):
        raise InputError(f"{chosen!r} cannot be a model's name", "use letters, digits, '.', '_' and '-' in --name")
    if os.path.lexists(directory / chosen):
        raise _taken(directory / chosen)
    return directory / chosen


def _taken(target: Path) -> InputError:
    return InputError(f"{target} is already there", "remove it first, or give another --name")


def _add_zip(archive: Path, digest: str | None, target: Path) -> InstalledModel:
    if digest is not None:
        verify(archive, digest)
    return _install(str(archive), target, lambda place: unpack(archive, place))


def _add_folder(folder: Path, digest: str | None, target: Path) -> InstalledModel:
    if digest is not None:
        raise InputError(f"{folder} is a folder and has no SHA-256", "leave --sha256 out, or add the zip file")
    if not is_model(folder) or target.resolve().is_relative_to(folder.resolve()):
        raise InputError(f"{folder} is not a model folder", "give the folder that holds am/ and conf/")
    return _install(str(folder), target, lambda place: _copy(folder, place, folder.resolve()))


def _copy(folder: Path, place: Path, within: Path) -> None:
    """Files only, with fresh permissions: a copy of a read-only folder could be neither moved nor removed."""
    place.mkdir()
    for entry in sorted(folder.iterdir()):
        if entry.is_symlink():
            _check_link(entry, within)
        if entry.is_dir():
            _copy(entry, place / entry.name, within)
        else:
            shutil.copyfile(entry, place / entry.name)


def _check_link(link: Path, within: Path) -> None:
    """A link may stand for another file of the model, and for nothing else."""
    try:
        inside = link.resolve(strict=True).is_relative_to(within)
    except (OSError, RuntimeError):  # it leads nowhere, or round in a circle
        inside = False
    if not inside:
        raise InputError(f"{link} is a link to no file of the model", "put the file itself in its place")
    if link.is_dir():
        raise InputError(f"{link} is a link to a folder", "put the folder itself in its place")


@contextmanager
def _writing(place: Path) -> Iterator[None]:
    """Disk trouble inside is reported as such."""
    try:
        yield
    except OSError as error:
        remedy = "free some space or make the folder writable, then add the model again"
        raise StoreError(f"{place} cannot be written ({reason(error)})", remedy) from error


def _install(shown: str, target: Path, fill: Callable[[Path], None]) -> InstalledModel:
    """Builds the model in a hidden folder beside its place and moves it there in one step."""
    with _writing(target.parent):
        private_folder(target.parent)
        with tempfile.TemporaryDirectory(prefix=".adding-", dir=target.parent, ignore_cleanup_errors=True) as staging:
            fill(Path(staging) / target.name)
            found = _only_model(shown, Path(staging) / target.name)
            if os.path.lexists(target):  # by another process, meanwhile: a rename would replace an empty folder
                raise _taken(target)
            found.rename(target)
    return _describe(target)


def _only_model(shown: str, folder: Path) -> Path:
    """The one model in what was unpacked: the folder itself or one below it."""
    found = [place for place in (folder, *sorted(folder.rglob("*"))) if place.is_dir() and is_model(place)]
    if len(found) != 1:
        raise InputError(f"{shown} holds {len(found) or 'no'} models", "give a folder or zip file with exactly one")
    return found[0]
