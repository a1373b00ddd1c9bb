"""What is installed is what lies in the tree, every dependency has its reason, and the files it needs come with it."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
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


def test_modules_of_its_names_in_the_working_folder_are_not_taken_for_its_own(tmp_path: Path) -> None:
    for name in ("log", "models", "voice", "tui"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('the wrong module')", encoding="utf-8")
    program = shutil.which("tamponade", path=str(Path(sys.executable).parent))
    assert program is not None
    done = subprocess.run(
        [program, "say", "gastric in five zero"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "") and "50 mL" in done.stdout


def test_every_licence_that_is_named_is_there() -> None:
    project = tomllib.loads(PROJECT.read_text(encoding="utf-8"))["project"]
    named = project["license"].split(" AND ")
    texts = [(PROJECT.parent / name).read_text(encoding="utf-8") for name in project["license-files"]]
    begins = ("Apache License", "Attribution-ShareAlike 4.0", "MIT License", "DejaVu")
    assert len(named) == len(texts) == len(begins)
    assert all(begin in text for begin, text in zip(begins, texts, strict=True))


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
