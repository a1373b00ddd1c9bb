"""What the README says is true: its examples run, its phrases are understood, its commands are the ones CI runs."""

from __future__ import annotations

import fnmatch
import json
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from log.basics.entry import Understood
from log.definition.load import read_override
from log.rules.definitions import read_procedure
from tui.cli import COMMANDS, tamponade
from tui.live.heard_json import Event
from voice.meaning.matcher import Listening, understand
from voice.phrases.phrases import compile_phrases

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, flags=re.MULTILINE | re.DOTALL)


def examples() -> list[list[tuple[str, list[str]]]]:
    """The commands of each block, with the lines that they print."""
    found = []
    for block in blocks("console"):
        commands = (example.splitlines() for example in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:])
        found.append([(command, shown) for command, *shown in commands])
    return found


@pytest.mark.parametrize("block", examples(), ids=lambda block: str(block[0][0]))
def test_the_examples_print_what_the_readme_shows(
    block: list[tuple[str, list[str]]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A line of three dots stands for any lines. The commands of a block follow each other."""
    monkeypatch.setenv("COLUMNS", "120")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    for command, shown in block:
        program, *arguments = shlex.split(command)
        assert program == "tamponade"

        result = CliRunner().invoke(tamponade, arguments)

        assert result.exit_code == 0, result.output
        printed = "\n".join(line.rstrip() for line in result.output.splitlines()) + "\n"
        wanted = "\n".join(line.rstrip() for line in shown) + "\n"
        pattern = re.sub(r"\[(.)", r"[[]\1", wanted).replace("...\n", "*")
        assert fnmatch.fnmatchcase(printed, pattern), printed


def test_there_are_examples() -> None:
    assert sum(map(len, examples())) >= 5


def test_every_phrase_of_the_table_is_understood() -> None:
    phrases = compile_phrases(read_procedure("three-lumen"))
    table = README.split("| to log | say, for example |")[1].split("\n\n")[0]
    said = re.findall(r'"([^"]+)"', table)
    assert len(said) > 20
    for text in said:
        assert isinstance(understand(phrases, text, Listening(question_open=text == "confirm")), Understood), text


def test_every_command_is_in_the_readme() -> None:
    for name in COMMANDS:
        assert f"tamponade {name}" in README or f"`{name} " in README, name


def test_the_override_of_the_readme_is_valid(tmp_path: Path) -> None:
    path = tmp_path / "override.toml"
    path.write_text(blocks("toml")[0], encoding="utf-8")
    override = read_override(path, read_procedure("three-lumen"))
    assert override.limits["oesophageal_ceiling"].max == 40


def test_the_json_of_the_readme_has_the_fields_that_are_printed() -> None:
    shown = json.loads(blocks("json")[0])
    assert list(shown) == ["file", "heard", "events"]
    assert set(shown["events"][0]) == Event.__required_keys__
    assert all(f"`{name}`" in README for name in Event.__optional_keys__)


def test_the_cautions_stand_near_the_top() -> None:
    assert README.index("Not a medical device") < README.index("## Try it")
    assert "Local\n> protocol, the tube's own instructions and the responsible clinician decide" in README


def test_ci_runs_the_tests_command_of_the_readme() -> None:
    assert "<!-- command: tests -->" in README
    assert "command: tests" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
