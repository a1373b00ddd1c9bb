"""What vosk answers is read strictly, and what a model cannot do is told before somebody relies on it."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from pathlib import Path

import pytest

from log.errors import EngineError
from voice.engine_process import EngineProcess
from voice.grammar import ENTRIES, Grammar
from voice.recogniser import BYTES_PER_SAMPLE, SAMPLE_RATE, Segment, Word
from voice.vosk_engine import VoskEngine, VoskSpec, available, utterance

SEGMENT = Segment(bytes(64_000), 160_000, 200_000)
GASTRIC = {"conf": 0.9, "start": 0.3, "end": 0.75, "word": "gastric"}
UNKNOWN = {"conf": 0.5, "start": 0.75, "end": 1.2, "word": "[unk]"}


def answer(*words: Mapping[str, object]) -> str:
    """The form in which vosk answers when words are asked for."""
    text = " ".join(str(word["word"]) for word in words)
    return json.dumps({"result": words, "text": text} if words else {"text": text}, indent=2)


def test_every_word_comes_with_its_confidence_and_its_time_in_the_source() -> None:
    heard = utterance(answer(GASTRIC), "vosk", SEGMENT)
    assert heard.words == (Word("gastric", 10.3, 10.75, 0.9),)
    assert (heard.engine, heard.start, heard.end) == ("vosk", 10.0, 12.0)


def test_what_the_recogniser_took_earlier_does_not_move_the_times() -> None:
    later = {**GASTRIC, "start": 5.3, "end": 5.75}
    (word,) = utterance(answer(later), "vosk", SEGMENT, before=5.0).words
    assert [word.start, word.end] == pytest.approx([10.3, 10.75])


def test_nothing_heard_is_no_words() -> None:
    assert utterance(answer(), "vosk", SEGMENT).words == ()
    assert utterance('{"text": "", "result": []}', "vosk", SEGMENT).words == ()


@pytest.mark.parametrize("words", [(UNKNOWN,), (GASTRIC, UNKNOWN), (UNKNOWN, GASTRIC), (GASTRIC, UNKNOWN, GASTRIC)])
def test_one_unknown_word_drops_the_whole_utterance(words: tuple[dict[str, object], ...]) -> None:
    """What is left of "gastric (something) fifty" could be another entry than the one that was said."""
    assert utterance(answer(*words), "vosk", SEGMENT).words == ()


@pytest.mark.parametrize(
    "result",
    [
        "",
        "not JSON",
        "[]",
        "null",
        "{}",
        '{"partial": "gas"}',
        '{"alternatives": []}',
        '{"text": "gastric"}',
        '{"text": "gastric", "result": null}',
        '{"text": "gastric", "result": 5}',
        '{"text": "gastric", "result": ["gastric"]}',
        answer({**GASTRIC, "start": "soon"}),
        *(answer(GASTRIC).replace(f'"{key}"', '"another"') for key in GASTRIC),
    ],
)
def test_an_answer_that_is_not_as_documented_is_an_error_in_one_line(result: str) -> None:
    with pytest.raises(EngineError, match="vosk answered something unreadable") as caught:
        utterance(result, "vosk", SEGMENT)
    assert "\n" not in str(caught.value)
    assert "--engine pocketsphinx" in caught.value.remedy


def test_on_macos_it_says_that_there_is_no_working_package(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(sys, "platform", "darwin")
        assert not available()
        with pytest.raises(EngineError, match="vosk has no working package for macOS") as caught:
            VoskEngine(VoskSpec(Path("model")))
    assert "--engine pocketsphinx" in caught.value.remedy


@pytest.mark.parametrize("system", ["linux", "win32"])
def test_elsewhere_it_is_available(system: str, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(sys, "platform", system)
        assert available()


# From here on with vosk itself, in a process of its own


@pytest.fixture(scope="module")
def engine(prototype: Path, grammars: Mapping[str, Grammar]) -> Iterator[EngineProcess]:
    with closing(EngineProcess(VoskSpec(prototype, {ENTRIES: grammars[ENTRIES]}))) as process:
        process.wait()
        yield process


def test_the_shipped_clip_is_heard_with_confidence(engine: EngineProcess, clip_pcm: bytes) -> None:
    heard = engine.hear(Segment(clip_pcm, 0, len(clip_pcm) // BYTES_PER_SAMPLE), ENTRIES)
    assert heard.text == "gastric pressure twenty"
    assert all(word.confidence is not None and 0 <= word.confidence <= 1 for word in heard.words)


def test_times_belong_to_the_segment_however_much_was_heard_before(engine: EngineProcess, clip_pcm: bytes) -> None:
    for second in (0, 60, 7):
        heard = engine.hear(Segment(clip_pcm, second * SAMPLE_RATE, 0), ENTRIES)
        assert heard.words[0].start == pytest.approx(second + 0.63, abs=0.2)
        assert heard.words[-1].end == pytest.approx(second + 2.21, abs=0.2)


def test_in_silence_it_hears_nothing(engine: EngineProcess) -> None:
    assert engine.hear(SEGMENT, ENTRIES).words == ()


def test_the_words_a_model_lacks_are_listed(engine: EngineProcess, grammars: Mapping[str, Grammar]) -> None:
    engine.ask("missing_words", grammars[ENTRIES])
    missing = engine.answer()
    assert missing == tuple(sorted(missing))
    assert "gastric" not in missing
    assert set(missing) < grammars[ENTRIES].words
    assert "capnography" in missing


def told_of(spec: VoskSpec) -> str:
    with closing(EngineProcess(spec)) as process, pytest.raises(EngineError) as caught:
        process.wait()
    assert "\n" not in str(caught.value)
    assert caught.value.remedy
    return str(caught.value)


def no_folder(_: Path) -> None:
    """Nothing at all."""


def empty_folder(place: Path) -> None:
    """As left by somebody who unpacked elsewhere."""
    place.mkdir()


def folder_of_rubbish(place: Path) -> None:
    """The right names with the wrong content."""
    for name in ("am/final.mdl", "conf/model.conf", "conf/mfcc.conf", "graph/HCLr.fst", "graph/Gr.fst"):
        (place / name).parent.mkdir(parents=True, exist_ok=True)
        (place / name).write_bytes(b"")


@pytest.mark.skipif(not available(), reason="vosk has no working package for this system")
@pytest.mark.parametrize("make", [no_folder, empty_folder, folder_of_rubbish])
def test_a_folder_that_is_no_model_is_told_in_one_line(
    make: Callable[[Path], None], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    make(tmp_path / "model")
    assert str(tmp_path / "model") in told_of(VoskSpec(tmp_path / "model"))
    assert "Traceback" not in capfd.readouterr().err


def test_a_model_that_knows_no_phrase_is_told(
    prototype: Path, grammars: Mapping[str, Grammar], capfd: pytest.CaptureFixture[str]
) -> None:
    foreign = Grammar(ENTRIES, grammars[ENTRIES].entry, None, ("zorbly blorp",))
    assert "knows none of the phrases" in told_of(VoskSpec(prototype, {ENTRIES: foreign}))
