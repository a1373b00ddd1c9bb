"""`card`: a page on paper, or the same as text, for any tube."""

from __future__ import annotations

from pathlib import Path

import pytest

from log.definition.load import shipped
from log.rules.definitions import read_procedure
from tests.tui.conftest import Run


def test_the_page_is_written_for_its_owner_alone(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "card.pdf"
    assert run("card", "--pdf", path).done() == f"{path}: how to speak to the log, one A5 page\n"
    assert path.read_bytes().startswith(b"%PDF")
    assert path.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(("options", "size"), [((), "595.2756 841.8898"), (("--letter",), "612 792")])
def test_the_quick_start_is_one_page(run: Run, tmp_path: Path, options: tuple[str, ...], size: str) -> None:
    path = tmp_path / "ward.pdf"
    assert "quick start for a ward, one" in run("card", "--quick-start", *options, "--pdf", path).done()
    written = path.read_bytes()
    assert written.count(b"/Type /Page\n") == 1 and f"/MediaBox [ 0 0 {size} ]".encode() in written
    text = run("card", "--quick-start", "--text").done()
    assert all(words in text for words in ("NO SOUND", "SAY AGAIN", "tamponade handover CASE", "Not a medical device"))


def test_a_folder_that_is_missing_is_one_line(run: Run, tmp_path: Path) -> None:
    run("card", "--pdf", tmp_path / "nowhere" / "card.pdf").refused(3, "no such folder")


@pytest.mark.parametrize("name", shipped())
def test_as_text_with_the_cautions_of_the_definition(run: Run, name: str) -> None:
    text = run("card", "--text", "--definition", name).done()
    procedure = read_procedure(name)
    assert procedure.title in text
    assert f'say "{procedure.lead_word}" first' in text
    assert all(caution in text for caution in procedure.cautions)
    assert text.count('| "') == 10
