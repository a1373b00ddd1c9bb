"""What is installed is what lies in the tree, every dependency has its reason, and the files it needs come with it."""

from __future__ import annotations

import re
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest

import log
import tui
import voice
from log.definition.load import shipped

PROJECT = Path(__file__).parent.parent / "pyproject.toml"
AUDIO = {".flac", ".opus", ".ogg", ".wav", ".mp3"}
MOST_AUDIO_BYTES = 3_000_000


def trees() -> set[Path]:
    return {Path(str(package.__file__)).resolve().parents[1] for package in (log, tui, voice)}


def test_the_three_packages_come_from_one_tree() -> None:
    """Their names are common ones; another distribution's `log` must not be taken for ours."""
    assert len(trees()) == 1


def test_every_dependency_has_a_reason() -> None:
    text = PROJECT.read_text(encoding="utf-8")
    project = tomllib.loads(text)["project"]
    extras = project["optional-dependencies"].values()
    wanted = [*project["dependencies"], *(name for extra in extras for name in extra)]
    reasons = dict(re.findall(r'^  "([^"]+)",\s*#\s+(\S.+)$', text, flags=re.MULTILINE))
    assert [name for name in wanted if name not in reasons] == []


@pytest.mark.parametrize(
    ("package", "name"),
    [
        ("log.definition", "shipped/common.toml"),
        *(("log.definition", f"shipped/{name}.toml") for name in shipped()),
        ("voice.sound", "clip.flac"),
        ("tui.demo", "demo.opus"),
        *((package, "py.typed") for package in ("log", "voice")),
    ],
)
def test_the_files_it_needs_come_with_it(package: str, name: str) -> None:
    found = files(package).joinpath(*name.split("/"))
    assert found.is_file()
    assert found.read_bytes() or name == "py.typed"


def test_the_sound_that_comes_with_it_is_small() -> None:
    (tree,) = trees()
    sizes = {
        path: path.stat().st_size
        for folder in ("log", "voice", "tui", "models")
        for path in (tree / folder).rglob("*")
        if path.suffix in AUDIO
    }
    assert sizes
    assert sum(sizes.values()) < MOST_AUDIO_BYTES
