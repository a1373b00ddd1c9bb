"""Nothing a test does touches the developer's own cases, models or local protocol; engines are started once for all."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable, Iterator, Mapping
from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import settings

from tests import cases
from voice.engines.models import shipped_model
from voice.meaning.ears import Ears
from voice.phrases.phrases import Phrases
from voice.sound.audio import AudioFile
from voice.templates.grammar import Grammar

Compile = Callable[..., Mapping[str, Grammar]]

sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
"""Where bytecode is forbidden, each of the hundreds of processes that the tests start compiles the program anew."""

settings.register_profile("suite", deadline=None, max_examples=40)
settings.register_profile("thorough", deadline=None, max_examples=1000)
settings.load_profile("suite")
"""A busy machine fails no example by being slow. `pytest --hypothesis-profile=thorough` looks longer."""

STARTS_ENGINES = frozenset({"ears", "both", "engine", "second_ear", "prototype", "room_model"})
"""Whatever asks for one of these, directly, by another fixture or as a parameter, is slow."""

BY_ITSELF = ("e2e", "models")
"""Folders in which every test starts the true program, or trains a model."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Marks what the quick run leaves out: pytest -m "not slow"."""
    folder = Path(__file__).parent
    gc.freeze()  # modules and tests are there to the end: no collection has to look at them again
    for item in items:
        if STARTS_ENGINES & _named(item) or item.path.relative_to(folder).parts[0] in BY_ITSELF:
            item.add_marker(pytest.mark.slow)


def _named(item: pytest.Item) -> set[str]:
    """The fixtures that a test asks for, and the texts among its parameters."""
    call = getattr(item, "callspec", None)
    params = call.params.values() if call is not None else ()
    return {*getattr(item, "fixturenames", ()), *(param for param in params if isinstance(param, str))}


@pytest.fixture(autouse=True)
def _folders_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for variable in ("TAMPONADE_CACHE", "TAMPONADE_CASES", "TAMPONADE_MODELS", "XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(variable, str(tmp_path / variable.lower()))
    for variable in ("TAMPONADE_MODEL", "TAMPONADE_WORDS"):
        monkeypatch.delenv(variable, raising=False)


@pytest.fixture(scope="session")
def clip() -> Path:
    """A shipped recording: "gastric pressure twenty", spoken from 0.63 s to 2.21 s of 2.97 s."""
    return Path(str(files("voice.sound") / "clip.flac"))


@pytest.fixture(scope="session")
def clip_pcm(clip: Path) -> bytes:
    """The same as the engines get it."""
    return AudioFile(clip).pcm()


@pytest.fixture(scope="session")
def prototype() -> Path:
    """A small vosk model that lies beside the repository on the machines where models are made."""
    path = Path(__file__).parents[2] / "shared" / "vosk-recipe" / "model-prototype"
    if not path.is_dir():
        pytest.skip(f"there is no vosk model in {path}")
    return path


@pytest.fixture(scope="session")
def room_model() -> Path:
    """The vosk model that comes with the program."""
    model = shipped_model()
    if model is None:
        pytest.skip("models/room-en is not there: make it (models/training/README.md)")
    return model.path


@pytest.fixture(scope="session")
def phrases() -> Phrases:
    """The phrases of the three-lumen tube."""
    return cases.phrases()


@pytest.fixture(scope="session")
def grammars() -> Mapping[str, Grammar]:
    """What the nets may hear, with no lead word."""
    return cases.grammars()


@pytest.fixture(scope="session")
def compiled(grammars: Mapping[str, Grammar]) -> Compile:
    """Gives the grammars that are there already, whichever phrases it is asked for."""
    return lambda phrases, lead_word: grammars


@pytest.fixture(scope="session")
def ears(phrases: Phrases, compiled: Compile) -> Iterator[Ears]:
    """The engines that come with the program, in their own processes, for everything that hears without a lead word."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("voice.meaning.ears.kept_grammars", compiled)
        listening = Ears(phrases, None, "people")
    with listening:
        yield listening


@pytest.fixture(scope="session")
def both(phrases: Phrases, compiled: Compile, room_model: Path) -> Iterator[Ears]:
    """All that the room hears with, in its own processes, without a lead word."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("voice.meaning.ears.kept_grammars", compiled)
        listening = Ears(phrases, None, "both", room_model)
    with listening:
        yield listening
