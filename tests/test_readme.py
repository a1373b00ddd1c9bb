"""The README is true: its examples run, its card is the program's, its commands are the ones CI runs."""

from __future__ import annotations

import fnmatch
import json
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from log.definition.load import read_override
from log.rules.definitions import read_procedure
from tui.cli import COMMANDS, tamponade
from tui.live.heard_json import Event

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str, text: str = README) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)


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
    assert sum(map(len, examples())) >= 4


def test_the_card_of_the_readme_is_the_one_that_the_command_prints() -> None:
    """What the card says is understood: tests/voice/english/test_how_to_speak.py."""
    card = CliRunner().invoke(tamponade, ["card", "--text"]).output
    lines = [line for line in card.splitlines() if line.startswith(("- ", "| "))]
    assert len(lines) > 15
    for line in lines:
        label, *examples = line.split(" | ")[:1] + re.findall(r'"[^"]+"', line) if line.startswith("| ") else [line]
        assert label in README
        assert all(example in README for example in examples)


def test_it_is_short() -> None:
    assert len(README.splitlines()) <= 170
    assert len((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines()) <= 160


def test_its_links_lead_somewhere() -> None:
    for page in ("README.md", "DEVELOPERS.md", "tests/bench/README.md"):
        text = (ROOT / page).read_text(encoding="utf-8")
        for link in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / page).parent.joinpath(link).exists(), f"{page}: {link}"


def test_every_command_is_in_the_readme() -> None:
    for name in COMMANDS:
        assert f"tamponade {name}" in README or f"`{name}`" in README, name


def test_the_override_of_the_readme_is_valid(tmp_path: Path) -> None:
    path = tmp_path / "override.toml"
    path.write_text(blocks("toml")[0], encoding="utf-8")
    override = read_override(path, read_procedure("three-lumen"))
    assert override.limits["oesophageal_ceiling"].max == 40


def test_the_json_that_is_documented_has_the_fields_that_are_printed() -> None:
    """Other programs measure by it: tests/bench/README.md shows it."""
    bench = (ROOT / "tests" / "bench" / "README.md").read_text(encoding="utf-8")
    shown = json.loads(blocks("json", bench)[0])
    assert list(shown) == ["file", "heard", "events"]
    assert set(shown["events"][0]) == Event.__required_keys__
    assert all(f"`{name}`" in bench for name in Event.__optional_keys__)


def test_the_cautions_stand_near_the_top() -> None:
    assert README.index("Not a medical device") < README.index("## Try it")
    assert "Local\n> protocol, the tube's own instructions and the responsible clinician decide" in README


def test_ci_runs_the_tests_command_of_the_readme() -> None:
    assert "<!-- command: tests -->" in README
    assert "command: tests" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
