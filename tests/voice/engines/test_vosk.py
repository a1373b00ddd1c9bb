"""What vosk answers is read strictly, and what a model cannot do is reported before somebody relies on it."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from log.basics.entry import Question, Understood
from log.basics.errors import EngineError
from voice.engines.process import EngineProcess
from voice.engines.protocol import Rival, Word
from voice.engines.vosk import VoskEngine, VoskSpec, available, utterance
from voice.engines.vosk_strict import complete, strict_models
from voice.meaning.evidence import Evidence
from voice.meaning.matcher import Listening
from voice.meaning.thresholds import PUSH_TO_TALK
from voice.meaning.verdict import judged
from voice.phrases.phrases import Phrases
from voice.sound.audio import AudioFile
from voice.sound.segment import SAMPLE_RATE, Segment
from voice.templates.acceptor import Acceptor
from voice.templates.grammar import BREATH, ENTRIES, NUMBER, Grammar

SEGMENT = Segment(bytes(64_000), 160_000, 200_000)
GASTRIC = {"start": 0.3, "end": 0.75, "word": "gastric"}
TWENTY = {"start": 0.75, "end": 1.2, "word": "twenty"}
UNKNOWN = {"start": 0.75, "end": 1.2, "word": "[unk]"}


def way(likelihood: float, *words: Mapping[str, object]) -> dict[str, object]:
    """One way to hear it; where nothing was heard vosk names no words."""
    found: dict[str, object] = {"result": words} if words else {}
    return {"confidence": likelihood, **found, "text": " ".join(str(word["word"]) for word in words)}


def answer(*ways: Mapping[str, object]) -> str:
    """The form in which vosk answers when several ways to hear it are asked for."""
    return json.dumps({"alternatives": ways}, indent=2)


def test_every_word_comes_with_its_time_in_the_source_and_all_of_them_with_how_likely_they_are() -> None:
    heard = utterance(answer(way(225.5, GASTRIC, TWENTY)), "vosk", SEGMENT)
    assert heard.words == (Word("gastric", 10.3, 10.75), Word("twenty", 10.75, 11.2))
    assert (heard.engine, heard.start, heard.end) == ("vosk", 10.0, 12.0)
    assert (heard.score, heard.rivals) == (225.5, ())


def test_what_the_recogniser_took_earlier_does_not_move_the_times() -> None:
    later = {**GASTRIC, "start": 5.3, "end": 5.75}
    (word,) = utterance(answer(way(0, later)), "vosk", SEGMENT, before=5.0).words
    assert [word.start, word.end] == pytest.approx([10.3, 10.75])


def test_the_other_ways_to_hear_it_come_with_how_far_behind_they_are() -> None:
    heard = utterance(answer(way(-90.5, GASTRIC, TWENTY), way(-92, TWENTY), way(-95, GASTRIC)), "vosk", SEGMENT)
    assert heard.text == "gastric twenty"
    assert heard.rivals == (Rival(("twenty",), 1.5), Rival(("gastric",), 4.5))


def test_another_way_that_is_no_phrase_at_all_is_a_rival_without_words() -> None:
    for words in ((UNKNOWN, UNKNOWN), (GASTRIC, UNKNOWN)):
        assert utterance(answer(way(5, GASTRIC), way(2, *words)), "vosk", SEGMENT).rivals == (Rival((), 3.0),)


def test_nothing_heard_is_no_words() -> None:
    for nothing in (answer(), answer(way(390.2)), answer({**way(390.2), "result": []})):
        heard = utterance(nothing, "vosk", SEGMENT)
        assert (heard.words, heard.rivals) == ((), ())
        assert (heard.start, heard.end) == (10.0, 12.0)


@pytest.mark.parametrize("words", [(UNKNOWN,), (GASTRIC, UNKNOWN), (UNKNOWN, GASTRIC), (GASTRIC, UNKNOWN, GASTRIC)])
def test_one_unknown_word_drops_the_whole_utterance(words: tuple[dict[str, object], ...]) -> None:
    """What is left of "gastric (something) fifty" could be another entry than the one that was said."""
    assert utterance(answer(way(0, *words)), "vosk", SEGMENT).words == ()


@pytest.mark.parametrize(
    "result",
    [
        "",
        "not JSON",
        "[]",
        "null",
        "{}",
        '{"partial": "gas"}',
        '{"text": "gastric", "result": []}',
        '{"alternatives": 5}',
        '{"alternatives": [5]}',
        '{"alternatives": null}',
        '{"alternatives": [{"text": "gastric"}]}',
        answer({**way(0, GASTRIC), "result": None}),
        answer({**way(0, GASTRIC), "result": 5}),
        answer({**way(0, GASTRIC), "result": ["gastric"]}),
        answer({**way(0, GASTRIC), "confidence": "much"}),
        answer(way(0, {**GASTRIC, "start": "soon"})),
        answer(way(0, GASTRIC), {**way(0, TWENTY), "result": None}),
        *(answer(way(0, GASTRIC)).replace(f'"{key}"', '"another"') for key in (*GASTRIC, "confidence", "text")),
    ],
)
def test_an_answer_that_is_not_as_documented_is_an_error_in_one_line(result: str) -> None:
    with pytest.raises(EngineError, match="vosk gave an unreadable answer") as caught:
        utterance(result, "vosk", SEGMENT)
    assert "\n" not in str(caught.value)
    assert "--engine people" in caught.value.remedy


def test_on_macos_it_says_that_there_is_no_working_package(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(sys, "platform", "darwin")
        assert not available()
        with pytest.raises(EngineError, match="vosk has no working package for macOS") as caught:
            VoskEngine(VoskSpec(Path("model")))
    assert "--engine people" in caught.value.remedy


@pytest.mark.parametrize("system", ["linux", "win32"])
def test_elsewhere_it_is_available(system: str, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(sys, "platform", system)
        assert available()


# From here on with vosk itself, in a process of its own


@pytest.fixture(scope="module")
def engine(prototype: Path, grammars: Mapping[str, Grammar]) -> Iterator[EngineProcess]:
    """A ready-made model that takes a grammar at run time: an n-gram of examples, and this small one hears few."""
    few = tuple(f"{site} pressure {n}" for site in ("gastric", "oesophageal") for n in ("ten", "twenty"))
    with closing(
        EngineProcess(VoskSpec(prototype, {ENTRIES: replace(grammars[ENTRIES], examples=few)}, strict=False))
    ) as process:
        process.wait()
        yield process


def test_the_shipped_clip_is_heard_with_a_grammar_at_run_time(engine: EngineProcess, clip_pcm: bytes) -> None:
    heard = engine.hear(whole(clip_pcm), ENTRIES)
    assert heard.text == "gastric pressure twenty"
    assert [rival.behind for rival in heard.rivals] == sorted(rival.behind for rival in heard.rivals)
    assert heard.free is None


def test_the_words_a_model_lacks_are_listed(engine: EngineProcess, grammars: Mapping[str, Grammar]) -> None:
    missing = ask(engine, "missing_words", grammars[ENTRIES])
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
def test_a_folder_that_is_no_model_is_reported_in_one_line(
    make: Callable[[Path], None], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    make(tmp_path / "model")
    assert str(tmp_path / "model") in told_of(VoskSpec(tmp_path / "model"))
    assert "Traceback" not in capfd.readouterr().err


def test_a_model_that_knows_no_phrase_is_reported(prototype: Path, tmp_path: Path) -> None:
    foreign = Grammar(ENTRIES, Acceptor(({"zorbly": 1}, {"blorp": 2}, {}), frozenset((2,))), None, ("zorbly blorp",))
    for strict in (True, False):
        spec = VoskSpec(prototype, {ENTRIES: foreign}, strict=strict, cache=tmp_path)
        assert "knows none of the phrases" in told_of(spec)


# ---- strict models -------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(scope="module")
def strict(room_model: Path, cache: Path, phrases: Phrases, grammars: Mapping[str, Grammar]) -> Iterator[EngineProcess]:
    """The model that comes with the program."""
    pronunciations = phrases.procedure.pronunciations
    spec = VoskSpec(room_model, grammars, pronunciations=pronunciations, cache=cache)
    with closing(EngineProcess(spec)) as process:
        process.wait()
        yield process


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., bytes]:
    """Synthetic speech, with noise after it as a room has it."""
    if not shutil.which("espeak-ng"):
        pytest.skip("espeak-ng is not installed")
    folder = tmp_path_factory.mktemp("speech")

    def speak(text: str, voice: str = "en-us") -> bytes:
        path = folder / f"{text} {voice}.wav"
        if not path.exists():
            subprocess.run(["espeak-ng", "-v", voice, "-s", "140", "-w", path, text], check=True)
        quiet = np.random.default_rng(1).normal(0, 30, SAMPLE_RATE // 2).astype("<i2").tobytes()
        return quiet + AudioFile(path).pcm() + quiet

    return speak


def ask(engine: EngineProcess, method: str, *arguments: object) -> Any:
    engine.ask(method, *arguments)
    return engine.answer()


def whole(pcm: bytes, second: int = 0) -> Segment:
    return Segment(pcm, second * SAMPLE_RATE, 0)


def test_strictly_it_hears_every_word_of_the_phrases(
    strict: EngineProcess, grammars: Mapping[str, Grammar], clip_pcm: bytes
) -> None:
    assert ask(strict, "missing_words", grammars[ENTRIES]) == ()
    assert strict.hear(whole(clip_pcm), ENTRIES).text == "gastric pressure twenty"
    assert strict.hear(SEGMENT, ENTRIES).words == ()
    assert strict.hear(SEGMENT, NUMBER).words == ()


def test_a_number_at_the_end_of_a_sentence_is_never_logged_as_a_bare_number(
    strict: EngineProcess, clip_pcm: bytes, phrases: Phrases
) -> None:
    """ "gastric pressure twenty" where a number is due: what precedes it fits no number; it is asked at most."""
    evidence = Evidence(whole(clip_pcm), net=strict.hear(whole(clip_pcm), NUMBER))
    meaning = judged(phrases, evidence, Listening(number_due=True), PUSH_TO_TALK, "").meaning
    assert not isinstance(meaning, Understood) or all(isinstance(item, Question) for item in meaning.items)


def test_a_voice_that_says_no_phrase_does_not_hold_up_what_is_said_next(strict: EngineProcess, clip_pcm: bytes) -> None:
    backwards = np.frombuffer(clip_pcm, "<i2")[::-1].tobytes()
    began = time.monotonic()
    strict.hear(whole(backwards), ENTRIES)
    assert time.monotonic() - began < 10 * whole(backwards).seconds  # an engine that hangs, not one that is slow


@pytest.mark.parametrize("text", ["pressure gastric twenty", "twenty gastric", "the weather is fine this morning"])
def test_strictly_nothing_is_heard_but_whole_phrases(
    text: str, strict: EngineProcess, grammars: Mapping[str, Grammar], said: Callable[..., bytes]
) -> None:
    heard = strict.hear(whole(said(text)), ENTRIES)
    assert heard.text != text
    assert complete(grammars, ENTRIES, [word.text for word in heard.words])


@pytest.mark.parametrize("number", ["three", "four", "thirteen", "fourteen", "thirty", "forty", "thirty three"])
def test_a_voice_that_says_a_t_for_th_is_heard(number: str, strict: EngineProcess, said: Callable[..., bytes]) -> None:
    """In it thirty and forty differ in their first sound alone; the net was not trained on it."""
    heard = strict.hear(whole(said(f"oesophageal pressure {number}", "en-029")), ENTRIES)
    assert heard.text == f"oesophageal pressure {number}"


def test_sound_cut_off_within_a_phrase_is_no_phrase(strict: EngineProcess, clip_pcm: bytes) -> None:
    heard = {strict.hear(whole(clip_pcm[: round(seconds * 32_000)]), ENTRIES).text for seconds in (0.9, 1.1, 1.4, 1.6)}
    assert not heard & {"gastric", "gastric pressure"}


def test_two_entries_in_one_breath_are_heard_in_one_go(strict: EngineProcess, said: Callable[..., bytes]) -> None:
    pcm = said("gastric pressure twenty, gastric pressure thirty")
    assert strict.hear(whole(pcm), ENTRIES).text == "gastric pressure twenty gastric pressure thirty"
    assert strict.hear(whole(pcm), BREATH).text == "gastric pressure twenty gastric pressure thirty"


def test_times_belong_to_the_segment_however_much_was_heard_before(strict: EngineProcess, clip_pcm: bytes) -> None:
    for second in (0, 60, 7):
        heard = strict.hear(whole(clip_pcm, second), ENTRIES)
        assert heard.words[0].start == pytest.approx(second + 0.63, abs=0.2)
        assert heard.words[-1].end == pytest.approx(second + 2.21, abs=0.2)


def test_the_same_sound_is_heard_the_same_whatever_was_heard_before(strict: EngineProcess, clip_pcm: bytes) -> None:
    before = strict.hear(whole(clip_pcm), ENTRIES)
    strict.hear(SEGMENT, ENTRIES)
    after = strict.hear(whole(clip_pcm), ENTRIES)
    assert after.texts == before.texts
    assert after.score == pytest.approx(before.score, abs=0.01)
    assert [rival.words for rival in after.rivals] == [rival.words for rival in before.rivals]


def test_what_is_heard_while_it_is_said_is_in_the_end_the_same_as_heard_at_once(
    strict: EngineProcess, clip_pcm: bytes
) -> None:
    at_once = strict.hear(whole(clip_pcm), ENTRIES)
    so_far = [ask(strict, "follow", whole(clip_pcm[:end]), ENTRIES) for end in range(10_000, len(clip_pcm), 10_000)]
    assert so_far[0] == "" and so_far[-1] == "gastric pressure twenty"
    followed = strict.hear(whole(clip_pcm), ENTRIES)
    for figure in ("texts", "score", "rivals", "free"):
        assert getattr(followed, figure) == getattr(at_once, figure)
    times = [(word.start, word.end) for word in at_once.words]
    assert [(word.start, word.end) for word in followed.words] == [pytest.approx(time, abs=1e-4) for time in times]


def test_what_goes_on_otherwise_than_it_began_is_heard_as_if_it_had_not_been_followed(
    strict: EngineProcess, clip_pcm: bytes
) -> None:
    at_once = strict.hear(whole(clip_pcm), ENTRIES)
    ask(strict, "follow", whole(clip_pcm[::-1]), ENTRIES)
    assert strict.hear(whole(clip_pcm), ENTRIES).score == at_once.score
    ask(strict, "follow", whole(clip_pcm), ENTRIES)
    assert strict.hear(SEGMENT, ENTRIES).words == ()
    ask(strict, "follow", whole(clip_pcm[:40_000]), ENTRIES)
    ask(strict, "prepare", NUMBER)
    assert strict.hear(whole(clip_pcm), ENTRIES).score == at_once.score


def test_what_was_heard_comes_with_its_rivals_the_nearest_first_all_of_them_whole_phrases_or_none(
    strict: EngineProcess, grammars: Mapping[str, Grammar], clip_pcm: bytes
) -> None:
    heard = strict.hear(whole(clip_pcm), ENTRIES)
    behind = [rival.behind for rival in heard.rivals]
    assert behind == sorted(behind)
    assert all(far >= 0 for far in behind)
    assert all(complete(grammars, ENTRIES, rival.words) for rival in heard.rivals)
    assert heard.texts not in [rival.words for rival in heard.rivals]


def test_listening_closely_tells_how_likely_any_sounds_are(strict: EngineProcess, clip_pcm: bytes) -> None:
    closely, quickly = (strict.hear(whole(clip_pcm), ENTRIES, closely) for closely in (True, False))
    assert quickly.free is None and closely.free is not None
    assert closely.texts == quickly.texts


def test_where_nothing_is_heard_it_is_not_asked_how_likely_sounds_are(strict: EngineProcess) -> None:
    heard = strict.hear(SEGMENT, ENTRIES)
    assert (heard.words, heard.free) == ((), None)


def test_no_sound_at_all_is_no_words(strict: EngineProcess) -> None:
    assert strict.hear(whole(b""), ENTRIES).words == ()


def test_a_pause_that_vosk_takes_for_the_end_does_not_end_it(strict: EngineProcess, clip_pcm: bytes) -> None:
    """Our endpointer decides; vosk's own rules would cut after half a second of silence."""
    pcm = clip_pcm + bytes(3 * 32_000) + clip_pcm
    heard = strict.hear(whole(pcm), ENTRIES)
    assert heard.text == "gastric pressure twenty gastric pressure twenty"
    assert heard.words[-1].end == pytest.approx(len(clip_pcm) / 32_000 + 3 + 2.21, abs=0.2)


def test_a_word_that_cannot_be_pronounced_is_reported(room_model: Path, tmp_path: Path) -> None:
    odd = Grammar(ENTRIES, Acceptor(({"zorbly": 1}, {}), frozenset((1,))), None, ("zorbly",))
    assert "cannot pronounce: zorbly" in told_of(VoskSpec(room_model, {ENTRIES: odd}, cache=tmp_path))


def test_a_kept_model_that_went_bad_is_reported_with_its_folder(
    room_model: Path, grammars: Mapping[str, Grammar], tmp_path: Path
) -> None:
    spec = VoskSpec(room_model, {NUMBER: grammars[NUMBER]}, cache=tmp_path)
    folder = strict_models(room_model, spec.grammars, {}, tmp_path)[NUMBER]
    (folder / "graph" / "Gr.fst").write_bytes(b"")
    with closing(EngineProcess(spec)) as process, pytest.raises(EngineError, match="vosk cannot load") as caught:
        process.wait()
    assert str(folder.parent) in caught.value.remedy
