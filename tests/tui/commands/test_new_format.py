"""A new format is a module under log/exports and one line in FORMATS; everything else finds it by itself."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import log.exports
from log.exports import FORMATS, Export
from tests.tui.conftest import Run

MODULE = """
from log.exports.document import Document, Heading, section, table
from log.exports.markdown import as_markdown
from log.exports.tables import cautions
from log.words.wording import sentence


def as_tiny(case):
    rows = ((str(line.number), sentence(case.procedure, line.entry)) for line in case.record.standing)
    standing = section("Lines that stand", table(("Line", "Entry"), rows, "None."))
    return as_markdown(Document("Tiny", (Heading("Tiny", level=1), cautions(case), *standing)))
"""


@pytest.fixture
def tiny(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The module, and the line."""
    (tmp_path / "tiny.py").write_text(MODULE)
    monkeypatch.setattr(log.exports, "__path__", [*log.exports.__path__, str(tmp_path)])
    monkeypatch.setattr(log.exports, "FORMATS", {**FORMATS, "tiny": Export(".tiny.md", "a test's own", "tiny:as_tiny")})
    sys.modules.pop("tui.commands.export", None)  # it is imported when it is called, and knows the formats from then on
    yield
    for module in ("tui.commands.export", "log.exports.tiny"):
        sys.modules.pop(module, None)


@pytest.mark.usefixtures("tiny")
def test_a_module_and_a_line_are_an_export(run: Run, tmp_path: Path) -> None:
    run("say", "--case", "bay-4", stdin="gastric five zero in\ngastric one hundred in\nscratch that\n")
    written = run("export", "bay-4", "--to", "tiny").done()
    assert "| 1 | gastric volume in 50 mL |" in written
    assert "100 mL" not in written
    assert "**Caution:** Not a medical device." in written
    assert "tiny" in run("export", "--help").done()
    run("export", "bay-4", "--to", "all", "--out", tmp_path / "out")
    assert (tmp_path / "out" / "bay-4.tiny.md").read_text(encoding="utf-8") == written
