"""What somebody else wrote into a case, on the screen of whoever looks at it."""

from __future__ import annotations

from pathlib import Path

import pytest

from log.exports.jsonl_import import import_case
from tests.cases import SIGNER
from tests.log.hostile import STEERS, plain_facts, written
from tests.tui.conftest import Run

NAME = "20261004-140000"


@pytest.mark.parametrize(
    "command",
    [
        ("cases",),
        ("show", NAME),
        ("verify", NAME, "--without-sound"),
        ("review",),
        *(("export", NAME, "--to", name) for name in ("note", "csv", "audit", "jsonl", "fhir", "timeline")),
        ("export", NAME, "--deidentify"),
        ("strike", NAME, "1", "--author", STEERS, "--reason", STEERS),
    ],
    ids=" ".join,
)
def test_nothing_in_a_case_steers_the_terminal(run: Run, tmp_path: Path, command: tuple[str, ...]) -> None:
    import_case(tmp_path / "cases", written(tmp_path / "x.jsonl", plain_facts(STEERS)), word_for=[SIGNER.public_key])
    ran = run(*command, "--cases", tmp_path / "cases")
    assert ran.code == 0, ran
    assert [c for c in ran.out + ran.err if not c.isprintable() and c not in "\r\n"] == []


def test_nothing_in_a_definition_steers_the_terminal(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text('extends = \'three-lumen\'\n"\\u001b[2J" = 1\n[parts]\nx = "\\u001b"\n', encoding="utf-8")
    ran = run("procedures", "check", path)
    assert ran.code == 3
    assert [c for c in ran.out + ran.err if not c.isprintable() and c != "\n"] == []
