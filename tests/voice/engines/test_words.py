"""The general recogniser: only known models are used, its pieces of text come back whole, a draft is words."""

from __future__ import annotations

import hashlib
import importlib.util
import os
from pathlib import Path

import numpy as np
import pytest

from log.basics.errors import EngineError, InputError
from tests.bench.relisten import word_errors
from voice.engines import words_models
from voice.engines.words import WordsSpec, _pieces, _text, _tokens
from voice.engines.words_models import VARIABLE, checked, manifest, words_model
from voice.english.numbers import in_figures
from voice.sound.segment import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment

PRESENT = os.environ.get(VARIABLE, "")
"""Before the tests take it away."""

INSTALLED = importlib.util.find_spec("ctranslate2") is not None

KNOWN = {piece: number for number, piece in enumerate(["Ġ", "Ġgas", "Ġgastric", "tric", "Ġ5", "0", "Ã", "©", "c"])}


def silence(seconds: float) -> Segment:
    samples = int(seconds * SAMPLE_RATE)
    return Segment(bytes(samples * BYTES_PER_SAMPLE), 0, samples)


def model(folder: Path, content: bytes = b"a net") -> Path:
    """A folder that looks like a model."""
    folder.mkdir(parents=True)
    (folder / "model.bin").write_bytes(content)
    (folder / "vocabulary.txt").write_text("a\nb", encoding="utf-8")
    return folder


def test_text_is_cut_into_the_longest_known_pieces_and_put_together_again() -> None:
    pieces = list(_tokens("gastric 50 cé", KNOWN))
    assert pieces == ["Ġgastric", "Ġ5", "0", "Ġ", "c", "Ã", "©"]
    assert _text([*pieces, "<|endoftext|>"]) == "gastric 50 cé"


@pytest.mark.parametrize(("seconds", "lengths"), [(2, [10]), (8.9, [10]), (12, [30]), (40, [30, 30]), (0, [10])])
def test_sound_is_filled_up_to_one_of_two_lengths(seconds: float, lengths: list[int]) -> None:
    pieces = list(_pieces(silence(seconds)))
    assert [len(piece) / SAMPLE_RATE for piece in pieces] == lengths
    assert all(piece.dtype == np.float32 for piece in pieces)


def test_a_model_that_the_manifest_does_not_know_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    found = hashlib.sha256(b"a net").hexdigest()
    with pytest.raises(InputError, match=found):
        checked(model(tmp_path / "mine"))
    with pytest.raises(InputError, match="no general recogniser"):
        checked(tmp_path)
    monkeypatch.setattr(words_models, "manifest", lambda: {"mine": found})
    assert checked(tmp_path / "mine").name == "mine"


def test_the_manifest_names_models_by_their_sha256() -> None:
    assert set(manifest()) == {"tiny-en", "base"}
    assert all(len(sha256) == 64 for sha256 in manifest().values())


@pytest.mark.skipif(not INSTALLED, reason="ctranslate2 is not installed: pip install tamponade-log[words]")
def test_it_is_found_in_a_named_folder_a_package_or_among_the_models(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert words_model() is None, "there is none"
    monkeypatch.setattr(words_models, "manifest", lambda: {"mine": hashlib.sha256(b"a net").hexdigest()})
    folder = model(tmp_path / "brought_words" / "model")
    monkeypatch.setenv(VARIABLE, str(folder))
    assert words_model() == words_models.WordsModel("mine", folder)
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setenv(VARIABLE, "brought_words")
    named = words_model()
    assert named is not None and named.path == folder
    monkeypatch.setenv(VARIABLE, "no_such_package")
    with pytest.raises(InputError, match="no folder and no package"):
        words_model()
    monkeypatch.delenv(VARIABLE)
    there = model(Path(os.environ["TAMPONADE_MODELS"]) / "words")
    assert words_model() == words_models.WordsModel("mine", there)


@pytest.mark.skipif(not INSTALLED, reason="ctranslate2 is not installed: pip install tamponade-log[words]")
def test_a_folder_that_is_no_model_says_so(tmp_path: Path) -> None:
    with pytest.raises(EngineError, match="cannot be loaded"):
        WordsSpec(model(tmp_path / "mine"), "mine").build()


@pytest.mark.slow
@pytest.mark.skipif(not (INSTALLED and PRESENT), reason=f"no general recogniser: name its folder in {VARIABLE}")
def test_a_clip_is_drafted_and_the_words_that_were_said_are_the_likeliest(clip_pcm: bytes) -> None:
    engine = WordsSpec(Path(PRESENT), "words").build()
    segment = Segment(clip_pcm, 0, len(clip_pcm) // BYTES_PER_SAMPLE)
    assert word_errors("gastric pressure twenty", engine.draft(segment).text)[0] <= 1
    said, other = engine.likely(segment, ["gastric pressure 20", "gastric pressure 30"])
    assert said > other + 1
    assert not engine.draft(silence(2)).ways


def test_word_errors_are_insertions_omissions_and_changes_whatever_the_figures() -> None:
    assert word_errors("gastric pressure fifty five", "Gastric pressure, 55.") == (0, 4)
    assert word_errors("call the blood bank", "call blood bank now") == (2, 4)
    assert in_figures(("tube", "at", "five", "two", "at", "the", "lips")) == "tube at 52 at the lips"
