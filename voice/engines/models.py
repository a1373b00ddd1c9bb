"""Speech models on this machine: which are there, which one is used, and how another is added.

A model is a folder. It appears under its name only when it is complete, so an interrupted copy is never listened with.
"""

from __future__ import annotations

import importlib.resources
import os
import re
import shutil
import tempfile
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal, Self
from urllib.parse import unquote, urlsplit

import platformdirs
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from log.basics.errors import EngineError, InputError

if TYPE_CHECKING:
    import ssl

    from voice.engines.fetch import Offer

DIRECTORY_VARIABLE = "TAMPONADE_MODELS"
"""Environment variable: the folder that holds the models."""
MODEL_VARIABLE = "TAMPONADE_MODEL"
"""Environment variable: the name of the model to use."""

SHIPPED = "room-en"
"""Name of the model that comes with the program."""

_NAME = r"^[A-Za-z0-9]([A-Za-z0-9._-]{0,98}[A-Za-z0-9_-])?$"
_DIGEST = r"^[0-9a-f]{64}$"


class ListedModel(BaseModel):
    """One entry of the manifest: a name that stands for one exact file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Annotated[str, Field(pattern=_NAME)]
    title: Annotated[str, Field(min_length=1)]
    address: Annotated[str, Field(pattern=r"^https://[^/\s]+/\S+$")]
    size: Annotated[int, Field(gt=0, strict=True)]
    """Length of the zip file in bytes."""
    sha256: Annotated[str, Field(pattern=_DIGEST)]
    """Of the zip file."""
    licence: Annotated[str, Field(min_length=1)]


class Manifest(BaseModel):
    """The models that can be added by name."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1]
    models: tuple[ListedModel, ...] = ()

    @model_validator(mode="after")
    def _unambiguous(self) -> Self:
        for field in ("name", "address"):
            if len({getattr(model, field) for model in self.models}) < len(self.models):
                raise ValueError(f"two models share one {field}")
        return self

    def find(self, name_or_address: str) -> ListedModel | None:
        """The entry with this name or address."""
        return next((model for model in self.models if name_or_address in (model.name, model.address)), None)


@dataclass(frozen=True, slots=True)
class InstalledModel:
    """A complete model folder on this machine."""

    name: str
    path: Path
    runtime_grammar: bool
    """Whether the engine can be told which phrases to expect; without it everything is heard as free dictation."""


def models_dir(override: Path | None = None) -> Path:
    """The folder that holds the models; it need not exist yet."""
    named = os.environ.get(DIRECTORY_VARIABLE)
    if override is not None or named:
        return override or Path(named or "").expanduser()
    return platformdirs.user_data_path("tamponade-log") / "models"


def shipped_manifest() -> Manifest:
    """The manifest that came with the program."""
    try:
        text = (importlib.resources.files("models") / "manifest.toml").read_text(encoding="utf-8")
    except (OSError, ModuleNotFoundError) as error:
        raise EngineError("models/manifest.toml is missing", "install tamponade-log again") from error
    return read_manifest(text)


def read_manifest(text: str) -> Manifest:
    """A manifest from its text; EngineError names the first thing wrong with it."""
    try:
        return Manifest.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise EngineError(f"models/manifest.toml: {error}", "correct that line") from error
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(part) for part in first["loc"]) or "manifest"
        raise EngineError(f"models/manifest.toml: {key}: {first['msg']}", "correct that entry") from error


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


def _no_progress(_done: int, _total: int) -> None:
    """For callers who show none."""


def add(
    source: str,
    *,
    sha256: str | None = None,
    directory: Path,
    progress: Callable[[int, int], None] = _no_progress,
    name: str | None = None,
    listed: Manifest | None = None,
    context: ssl.SSLContext | None = None,
) -> InstalledModel:
    """Add a model from a folder, a zip file, a name in the manifest, or an https address.

    `progress` follows a download (bytes here, bytes in all or 0). `listed` replaces the shipped manifest and `context`
    the system's certificates.
    """
    digest, local = _digest(sha256), _local(source)
    if local is not None and local.is_dir():
        return _add_folder(local, digest, _target(directory, name, local.resolve().name))
    if local is not None:
        return _add_zip(local, digest, _target(directory, name, _stem(local.name)))
    entry = (listed or shipped_manifest()).find(source)
    offer = _offer(source, entry, digest)
    target = _target(directory, name, entry.name if entry else _stem(unquote(urlsplit(source).path)))
    return _add_download(offer, target, progress, context)


def _local(source: str) -> Path | None:
    """The folder or file that is meant, if there is one."""
    try:
        place = Path(source).expanduser()
        return place if "://" not in source and (place.is_dir() or place.is_file()) else None
    except (OSError, RuntimeError):  # too long for a name; the home of somebody who is not there
        return None


def _digest(sha256: str | None) -> str | None:
    if sha256 is None:
        return None
    if not re.fullmatch(_DIGEST, sha256.strip().lower()):
        raise InputError(f"{sha256!r} is not a SHA-256", "give the 64 hexadecimal digits")
    return sha256.strip().lower()


def _stem(path: str) -> str:
    return re.sub(r"\.zip$", "", path.rstrip("/").rpartition("/")[2], flags=re.IGNORECASE)


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


def _offer(source: str, entry: ListedModel | None, digest: str | None) -> Offer:
    """What to fetch: an entry of the manifest, or an address whose SHA-256 the user vouches for."""
    from voice.engines.fetch import Offer, require_https

    if entry is not None:
        if digest not in (None, entry.sha256):
            raise InputError(f"{source}: the manifest lists another SHA-256", "leave --sha256 out, or check it")
        return Offer(entry.address, entry.sha256, entry.size)
    if "://" not in source:
        raise InputError(f"{source!r} is no folder, no zip file and no listed model", "check the spelling")
    require_https(source)
    if digest is None:
        raise InputError(f"{source} is not a listed address", "give the file's --sha256, from where it is published")
    return Offer(source, digest)


def _add_download(
    offer: Offer, target: Path, progress: Callable[[int, int], None], context: ssl.SSLContext | None
) -> InstalledModel:
    from voice.engines import (
        fetch as fetch,  # the code that can open a connection is loaded only by the command that does
    )

    part = target.with_name(f"{target.name}.zip.part")
    with fetch.writing(target.parent):
        target.parent.mkdir(parents=True, exist_ok=True)
    fetch.download(offer, part, progress, context)
    try:
        model = _add_zip(part, None, target)
    except InputError:
        part.unlink(missing_ok=True)  # it is the right file and no model: nothing to go on from
        raise
    part.unlink(missing_ok=True)
    return model


def _add_zip(archive: Path, digest: str | None, target: Path) -> InstalledModel:
    from voice.engines.fetch import unpack, verify

    if digest is not None:
        verify(archive, digest, str(archive))
    return _install(str(archive), target, lambda place: unpack(archive, place))


def _add_folder(folder: Path, digest: str | None, target: Path) -> InstalledModel:
    if digest is not None:
        raise InputError(f"{folder} is a folder and has no SHA-256", "leave --sha256 out, or add the zip file")
    if not is_model(folder) or target.resolve().is_relative_to(folder.resolve()):
        raise InputError(f"{folder} is not a model folder", "give the folder that holds am/ and conf/")
    return _install(str(folder), target, lambda place: _copy(folder, place))


def _copy(folder: Path, place: Path) -> None:
    """Files only, with fresh permissions: a copy of a read-only folder could be neither moved nor removed."""
    place.mkdir()
    for entry in sorted(folder.iterdir()):
        if entry.is_symlink() and entry.is_dir():
            raise InputError(f"{entry} is a link to a folder", "put the folder itself in its place")
        if entry.is_dir():
            _copy(entry, place / entry.name)
        else:
            shutil.copyfile(entry, place / entry.name)


def _install(shown: str, target: Path, fill: Callable[[Path], None]) -> InstalledModel:
    """Build the model in a hidden folder beside its place and move it there in one step."""
    from voice.engines.fetch import writing

    with writing(target.parent):
        target.parent.mkdir(parents=True, exist_ok=True)
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
