"""Grammars that are kept are those that would be made, whatever becomes of the file."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cases import grammars
from voice.meaning.kept_grammars import FILE, kept_grammars
from voice.phrases.phrases import Phrases


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory, phrases: Phrases) -> Path:
    """A folder in which those of the shipped definition are kept."""
    folder = tmp_path_factory.mktemp("kept")
    kept_grammars(phrases, "log", folder)
    return folder


def test_they_are_read_as_they_were_made(kept: Path, phrases: Phrases, monkeypatch: pytest.MonkeyPatch) -> None:
    made = grammars()
    monkeypatch.setattr("voice.meaning.kept_grammars.compile_grammars", lambda *_: pytest.fail("made once more"))
    assert kept_grammars(phrases, "log", kept) == made


@pytest.mark.parametrize("content", ["", "{}", '{"entries": 1}', "\x00"])
def test_a_damaged_file_is_made_good(
    kept: Path, phrases: Phrases, content: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (file,) = kept.rglob(FILE)
    whole = file.read_bytes()
    file.write_text(content)
    monkeypatch.setattr("voice.meaning.kept_grammars.compile_grammars", lambda *_: grammars())
    assert kept_grammars(phrases, "log", kept) is grammars()
    file.write_bytes(whole)
