"""Whoever goes on with a case that does not verify is warned before anything is added to it."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import soundfile

from tests.tui.conftest import Run
from voice.sound.segment import SAMPLE_RATE

WARNING = "!! THIS CASE DOES NOT VERIFY: fact 2: chain broken here"


class Deaf:
    """Ears of a room in which nobody speaks."""

    lead_word = None
    notes = ()

    def __enter__(self) -> Deaf:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def expect(self, listening: object) -> None:
        """Nothing is said."""

    def close(self) -> None:
        """No engine is to be ended."""


@pytest.fixture
def altered(run: Run, tmp_path: Path) -> Path:
    """The folder of a case in which somebody has changed a number."""
    run("say", "--cases", tmp_path, "--case", "night", "gastric pressure 40").done()
    with closing(sqlite3.connect(tmp_path / "night.case")) as file, file:
        file.execute("DROP TRIGGER facts_are_never_changed")
        file.execute("""UPDATE facts SET line = replace(line, '"value":40', '"value":30') WHERE seq = 2""")
    return tmp_path


@pytest.fixture
def silence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A recording of nothing, and ears without an engine."""
    monkeypatch.setattr("voice.meaning.ears.Ears", lambda *_: Deaf())
    soundfile.write(tmp_path / "nothing.wav", np.zeros(SAMPLE_RATE // 5, np.int16), SAMPLE_RATE)
    return tmp_path / "nothing.wav"


def test_what_is_typed_or_replayed_into_a_case_that_does_not_verify_comes_with_a_warning(
    run: Run, altered: Path, silence: Path
) -> None:
    case = ("--cases", altered, "--case", "night")
    assert WARNING in run("say", *case, "gastric pressure 41").out
    assert WARNING in run("replay", silence, *case).out
    as_json = run("replay", silence, *case, "--json")
    assert WARNING in as_json.err and json.loads(as_json.out)["events"] == []


def test_who_listens_into_a_case_that_does_not_verify_is_warned(run: Run, altered: Path, silence: Path) -> None:
    heard = run("listen", "--plain", "--audio", silence, "--cases", altered, "--case", "night")
    assert heard.code == 0 and WARNING in heard.out


def test_what_is_corrected_in_a_case_that_does_not_verify_comes_with_a_warning(run: Run, altered: Path) -> None:
    struck = run("strike", "night", "1", "--reason", "wrong", "--author", "scribe", "--cases", altered)
    assert WARNING in struck.out + struck.err
